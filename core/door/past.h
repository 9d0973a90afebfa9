#pragma once

#include <string>
#include <vector>

#include "core/duty/carried.h"
#include "core/duty/coordinator.h"
#include "core/duty/pending.h"
#include "core/ledger/views.h"

/// From what the ledger says to what the shop can reckon with: names become places of this sheet.
///
/// A sheet changes over the years. What names a machine, zone or bin that it no longer has is left
/// out, and counted by name in `unknown`.
namespace chipfall {

struct Past {
  std::vector<PastEvent> events;
  std::vector<PastCleaning> cleanings;
  std::vector<PastBinFact> bin_facts;
  std::vector<SupplyFact> supplies;
  std::vector<FinishedDuty> finished;     ///< timed ones, oldest first, the last kMostFinished
  std::vector<std::int64_t> finished_ms;  ///< parallel: when
  std::vector<bool> out_of_order;         ///< parallel to Shop::machines
  std::vector<std::string> unknown;       ///< ids that this sheet does not have, each once, sorted
};

OrError<Past> past_of(Views& views, const Shop& shop);

/// How the zone duties of sessions since `from_ms` ended, by nobody in particular.
OrError<std::vector<ZoneEnding>> zone_endings(Views& views, const Shop& shop, std::int64_t from_ms,
                                              const DayOf& day_of);

/// Duties that stand, for the lock-up and the next wind-down. Ages count to `now_ms` and are never
/// below 0.
OrError<std::vector<PendingDuty>> pending_of(Views& views, std::int64_t now_ms);

/// The text that names an entry: device in hexadecimal, slash, sequence.
std::string text_of(const EntryRef& entry);

}  // namespace chipfall
