#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/duty/carried.h"
#include "core/ledger/store.h"

/// Falls of past sessions, kept beside the ledger's entries so that a shop with years behind it
/// opens at once. One for each session: what it was worked out from is kept with it. A cache and
/// nothing more: what is missing, of another sheet or damaged is worked out again.
namespace chipfall {

class KeptFalls {
 public:
  /// `sheet_key` names the sheet's text and the program's way of reckoning; falls kept under
  /// another key are dropped.
  static OrError<KeptFalls> open(LedgerStore& store, const std::string& sheet_key);

  /// A source for `carry_forward` that looks here first. Fills are rounded to kFillStep_share
  /// before anything is worked out, so that the answer does not depend on what was kept. `shop`,
  /// `overlay` and this outlive it. Failures to write are not the caller's trouble: it is worked
  /// out again.
  FallSource source(const Shop& shop, const Overlay& overlay);

  /// Writes what was worked out since, in one transaction.
  OrError<void> keep();

 private:
  struct Fresh {
    std::string session, found, bytes;
  };

  explicit KeptFalls(LedgerStore& store) : store_(&store) {}
  std::optional<SessionFall> look_up(const std::string& session, const std::string& found,
                                     const Shop& shop);

  LedgerStore* store_;
  std::optional<Statement> looking_up_;
  std::vector<Fresh> fresh_;
};

/// Choking hangs on fills; a twentieth is all that anybody knows of them.
inline constexpr double kFillStep_share = 0.05;

}  // namespace chipfall
