#pragma once

#include <cstdint>
#include <map>

/// When a thing happened, as far as the ledger can tell.
///
/// A phone's clock is a claim. Two things bound it: the device's own measurements of its clock
/// beside the hub's (ClockMeasured), and the clock of the entry, which the claim cannot be far
/// after. The answer is a function of the entries alone: whenever a measurement arrives, the same
/// times come out.
namespace chipfall {

/// The measurements of one device's clock, by the sequence of the entry that told them; ms that the
/// device was ahead.
using ClockMeasurements = std::map<std::uint64_t, std::int64_t>;

/// How far the device's clock was ahead when it made the entry `sequence`: by the first measurement
/// from that entry on, else by the last one, else 0. Bounded, so that sums never overflow.
std::int64_t ahead_ms(const ClockMeasurements& measured, std::uint64_t sequence);

/// The entries for which a measurement holds: those after `after`, up to `last`.
struct MeasuredRange {
  std::uint64_t after = 0;
  std::uint64_t last = 0;

  bool operator==(const MeasuredRange&) const = default;
};

/// The range of the measurement told by the entry `sequence`, which is one of `measured`.
MeasuredRange range_of(const ClockMeasurements& measured, std::uint64_t sequence);

struct CorrectedTime {
  std::int64_t at_ms = 0;  ///< UTC; from kEarliestEvent_ms to kLatestWall_ms
  bool doubtful = false;

  bool operator==(const CorrectedTime&) const = default;
};

/// The claim `event_utc_ms` of an entry whose clock's wall part is `wall_ms`, by a device that was
/// `ahead` ms ahead. Both are corrected by it. Where the claim then lies before kEarliestEvent_ms,
/// or over kMostFuture_ms after the entry's clock, it cannot be: the entry's clock stands for it,
/// and `doubtful` says so.
CorrectedTime corrected_time(std::int64_t event_utc_ms, std::int64_t wall_ms, std::int64_t ahead);

}  // namespace chipfall
