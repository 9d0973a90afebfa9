#include "core/ledger/clock.h"

#include <doctest/doctest.h>

#include <limits>
#include <random>
#include <vector>

namespace chipfall {
namespace {

constexpr std::int64_t kNow_ms = 1'780'000'000'000;  // in 2026
constexpr std::int64_t kHour_ms = 3'600'000;
constexpr std::int64_t kYear_ms = 365 * 24 * kHour_ms;
constexpr std::uint32_t kFullCounter = std::numeric_limits<std::uint32_t>::max();

TEST_CASE("the hybrid clock never runs backwards, whatever the wall clock does") {
  for (unsigned seed = 0; seed < 50; ++seed) {
    std::mt19937_64 random(seed);
    HybridClock clock;
    HybridTime before;
    std::int64_t now = kNow_ms;
    for (int step = 0; step < 500; ++step) {
      switch (random() % 6) {
        case 0:
          now = kNow_ms + std::int64_t(random() % (2 * kYear_ms)) - kYear_ms;
          break;
        case 1:
          now = static_cast<std::int64_t>(random());
          break;
        case 2:
          now = 0;
          break;
        default:
          now = std::int64_t(std::uint64_t(now) + random() % 3);
          break;
      }
      const HybridTime remote{now + std::int64_t(random() % kHour_ms) / 2,
                              static_cast<std::uint32_t>(random())};
      if (now > 0 && now < kLatestWall_ms && random() % 2 == 0 && clock.receive(remote, now)) {
        CHECK(clock.last() >= remote);
      }
      const HybridTime tick = clock.tick(now);
      REQUIRE(tick > before);
      before = tick;
    }
  }
}

TEST_CASE("an entry made after another device's was seen sorts after it") {
  HybridClock slow;
  HybridClock fast;
  const HybridTime seen = fast.tick(kNow_ms + kHour_ms / 2);
  CHECK(slow.receive(seen, kNow_ms));
  CHECK(slow.tick(kNow_ms) > seen);
}

TEST_CASE("right clocks give the wall's time with an empty counter") {
  HybridClock clock;
  CHECK(clock.tick(kNow_ms) == HybridTime{kNow_ms, 0});
  CHECK(clock.tick(kNow_ms) == HybridTime{kNow_ms, 1});
  CHECK(clock.tick(kNow_ms + 5) == HybridTime{kNow_ms + 5, 0});
}

TEST_CASE("a clock beyond the bound on the future does not move ours") {
  HybridClock clock;
  clock.tick(kNow_ms);
  CHECK(clock.receive({kNow_ms + kMostAhead_ms, 7}, kNow_ms));
  HybridClock other;
  other.tick(kNow_ms);
  CHECK_FALSE(other.receive({kNow_ms + kMostAhead_ms + 1, 0}, kNow_ms));
  CHECK_FALSE(other.receive({std::numeric_limits<std::int64_t>::max(), 0}, kNow_ms));
  CHECK(other.last() == HybridTime{kNow_ms, 0});
}

TEST_CASE("a remote clock of any kind of past changes nothing") {
  HybridClock clock;
  const HybridTime last = clock.tick(kNow_ms);
  CHECK(clock.receive({0, kFullCounter}, kNow_ms));
  CHECK(clock.receive({std::numeric_limits<std::int64_t>::min(), 0}, kNow_ms));
  CHECK(clock.last() == last);
}

TEST_CASE("a full counter carries into the wall part") {
  HybridClock clock(HybridTime{kNow_ms, kFullCounter});
  CHECK(clock.tick(kNow_ms) == HybridTime{kNow_ms + 1, 0});
  HybridClock latest(HybridTime{kLatestWall_ms, kFullCounter});
  CHECK(latest.tick(std::numeric_limits<std::int64_t>::max()) == HybridTime{kLatestWall_ms + 1, 0});
}

TEST_CASE("entries of one time are ordered by device as unsigned bytes, then by sequence") {
  const HybridTime time{kNow_ms, 3};
  const std::vector<EntryOrder> ordered = {{{kNow_ms - 1, 9}, "z", 9},
                                           {{kNow_ms, 2}, "z", 9},
                                           {time, "a", 2},
                                           {time, "a", 10},
                                           {time, "ab", 1},
                                           {time, "b", 1},
                                           {time, "\xff", 1},
                                           {{kNow_ms, 4}, "a", 1}};
  for (std::size_t i = 0; i + 1 < ordered.size(); ++i) CHECK(ordered[i] < ordered[i + 1]);
}

TEST_CASE("event times that cannot be are marked, each with its reason") {
  const std::int64_t began = kNow_ms - kYear_ms;
  CHECK(doubt_of(kNow_ms, kNow_ms, began) == EventDoubt::kCredible);
  CHECK(doubt_of(kNow_ms - 180 * 24 * kHour_ms, kNow_ms, began) == EventDoubt::kCredible);
  CHECK(doubt_of(0, kNow_ms, began) == EventDoubt::kClockNotSet);
  CHECK(doubt_of(std::numeric_limits<std::int64_t>::min(), kNow_ms, 0) == EventDoubt::kClockNotSet);
  CHECK(doubt_of(began - 1, kNow_ms, began) == EventDoubt::kBeforeShop);
  CHECK(doubt_of(began - 1, kNow_ms, 0) == EventDoubt::kCredible);
  CHECK(doubt_of(kNow_ms + 24 * kHour_ms, kNow_ms, began) == EventDoubt::kCredible);
  CHECK(doubt_of(kNow_ms + 24 * kHour_ms + 1, kNow_ms, began) == EventDoubt::kFuture);
  const auto last = std::numeric_limits<std::int64_t>::max();
  CHECK(doubt_of(last, last, began) == EventDoubt::kFuture);
}

}  // namespace
}  // namespace chipfall
