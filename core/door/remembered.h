#pragma once

#include "core/door/answer_coordinator.h"
#include "core/door/draft.h"
#include "core/door/past.h"
#include "core/duty/lock_up.h"

/// The shop as its ledger remembers it: what the next session finds, what waits to be done, what
/// the coordinator should know. The one place where the ledger's facts, the dust account and the
/// beliefs about bins meet.
namespace chipfall {

struct Remembered {
  ShopState state;  ///< dust as carried, fills as believed, machines out, timed duties
  std::vector<PendingDuty> pending;
  std::vector<BinOutlook> bins;  ///< in the sheet's order
  BinPasts bin_pasts;
  Carried carried;
  Past past;
  std::int64_t now_ms = 0;
  double now_day = 0;  ///< of the shop's own days, with its fraction
};

/// Works it out at `now_ms`. Falls of past sessions are kept beside the ledger's entries, so that
/// only new ones cost anything. A ledger that cannot be written to now is still read.
/// `read_already` is what an earlier one read, where nothing was told since: reading years again is
/// half of the work.
OrError<Remembered> remember(LedgerStore& store, Views& views, const OpenShop& open,
                             std::int64_t now_ms, std::optional<Past> read_already = {});

/// A list that is younger than this is still being worked on by its own crew [c.p.]: what is open
/// of it is nobody else's yet.
inline constexpr double kStillCleaning_minutes = 180;

/// What may come into a member's next list: passed on, or left open by a crew that has gone.
std::vector<PendingDuty> waiting_for_members(const std::vector<PendingDuty>& pending);

/// What the sessions of the last kTonight_hours say to whoever closes the shop.
OrError<LockUpTonight> tonight_of(const Remembered& remembered, Views& views, const Shop& shop);
inline constexpr double kTonight_hours = 18;

/// `next_round_days` as in RoundAsk.
OrError<CoordinatorView> coordinator_view(const Remembered& remembered, Views& views,
                                          const OpenShop& open, std::optional<int> next_round_days);

/// Days since 1970 in the shop's own time with the fraction of the day that its clock shows. The
/// hour that comes twice in autumn is drawn out over both, so that days never fall.
DayOf day_of(const ShopClock& clock);

}  // namespace chipfall
