#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>

#include "sync/hub_http.h"

/// In which form a browser takes a file: Accept-Encoding, RFC 9110, 12.5.3.
namespace chipfall {

/// A form in which a file may lie beside the plain one, and the ending of its name there.
struct Packing {
  const char* coding;
  const char* ending;
};

/// The smallest first: Brotli makes of the page's core four fifths of what gzip does.
constexpr std::array<Packing, 2> kPackings{{{"br", ".br"}, {"gzip", ".gz"}}};

/// For each of kPackings, whether there is such a file.
using Packed = std::array<bool, kPackings.size()>;

/// Which of these the browser likes best, of two liked alike the smaller; nothing where it is to
/// have the plain file, which everybody takes. A weight that cannot be read counts as none.
std::optional<std::size_t> packing_for(const HubRequest& request, const Packed& there);

}  // namespace chipfall
