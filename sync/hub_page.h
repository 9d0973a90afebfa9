#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>

#include "core/ledger/sqlite.h"
#include "sync/hub_http.h"
#include "sync/hub_packing.h"

/// The phone's page, as the hub serves it: the files of one folder, read when the hub starts.
///
/// Files `x.br` and `x.gz` beside `x` are `x` packed and go to browsers that take them. Names under
/// /assets/ carry their content's hash and are kept for good; all else is asked for again each time
/// and answered with 304 where nothing has changed. The headers let the page run its own files
/// only: no inline script, no other site, in no frame. Without a folder there is no page.
namespace chipfall {

constexpr std::size_t kMostPageBytes = 64 << 20;  ///< 30 times the page; all of it is in memory
constexpr std::size_t kMostPageFiles = 5'000;     ///< the page has 700, most of them time zones

class HubPage {
 public:
  /// Reads all regular files under the folder. A mistake where it cannot be read, is too large, or
  /// has no index.html.
  static OrError<HubPage> read(const std::string& folder);

  /// Nothing where the page has no such file.
  std::optional<HubResponse> response(const HubRequest& request) const;

 private:
  struct File {
    std::string bytes;
    std::array<std::string, kPackings.size()> packed;  ///< empty where there is none
    std::string hash;                                  ///< of `bytes`
    const char* type = "";
  };
  std::map<std::string, File, std::less<>> files_;  ///< by path, "/" first
};

}  // namespace chipfall
