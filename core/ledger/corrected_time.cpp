#include "core/ledger/corrected_time.h"

#include <algorithm>
#include <iterator>
#include <limits>

#include "core/ledger/clock.h"

namespace chipfall {

namespace {

/// Any claim, brought to where sums of three cannot overflow; what is outside cannot be anyhow.
std::int64_t bounded(std::int64_t ms) { return std::clamp(ms, -kLatestWall_ms, kLatestWall_ms); }

}  // namespace

std::int64_t ahead_ms(const ClockMeasurements& measured, std::uint64_t sequence) {
  if (measured.empty()) return 0;
  const auto next = measured.lower_bound(sequence);
  return bounded(next == measured.end() ? measured.rbegin()->second : next->second);
}

MeasuredRange range_of(const ClockMeasurements& measured, std::uint64_t sequence) {
  const auto at = measured.find(sequence);
  if (at == measured.end()) return {};
  MeasuredRange range{0, sequence};
  if (at != measured.begin()) range.after = std::prev(at)->first;
  if (std::next(at) == measured.end()) range.last = std::numeric_limits<std::uint64_t>::max();
  return range;
}

CorrectedTime corrected_time(std::int64_t event_utc_ms, std::int64_t wall_ms, std::int64_t ahead) {
  const std::int64_t at = bounded(event_utc_ms) - bounded(ahead);
  const std::int64_t clock = bounded(wall_ms) - bounded(ahead);
  if (at >= kEarliestEvent_ms && at <= clock + kMostFuture_ms && at <= kLatestWall_ms) {
    return {at, false};
  }
  return {std::clamp(clock, kEarliestEvent_ms, kLatestWall_ms), true};
}

}  // namespace chipfall
