#include "core/ledger/clock.h"

#include <algorithm>
#include <limits>

namespace chipfall {

namespace {

std::int64_t within_walls(std::int64_t wall_ms) {
  return std::clamp(wall_ms, kEarliestWall_ms, kLatestWall_ms);
}

}  // namespace

HybridTime HybridClock::tick(std::int64_t now_ms) {
  const std::int64_t now = within_walls(now_ms);
  if (now > last_.wall_ms) {
    last_ = {now, 0};
  } else if (last_.counter < std::numeric_limits<std::uint32_t>::max()) {
    ++last_.counter;
  } else {
    last_ = {last_.wall_ms + 1, 0};
  }
  return last_;
}

bool HybridClock::receive(HybridTime remote, std::int64_t now_ms) {
  if (remote.wall_ms > within_walls(now_ms) + kMostAhead_ms) return false;
  last_ = std::max(last_, remote);
  return true;
}

EventDoubt doubt_of(std::int64_t event_utc_ms, std::int64_t received_ms,
                    std::int64_t shop_began_ms) {
  if (event_utc_ms < kEarliestEvent_ms) return EventDoubt::kClockNotSet;
  if (event_utc_ms < shop_began_ms) return EventDoubt::kBeforeShop;
  if (event_utc_ms > within_walls(received_ms) + kMostFuture_ms) return EventDoubt::kFuture;
  return EventDoubt::kCredible;
}

}  // namespace chipfall
