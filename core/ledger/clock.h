#pragma once

#include <compare>
#include <cstdint>
#include <string>

/// The order of entries, and what to think of the times that phones claim.
///
/// Two kinds of time travel with each entry and are never mixed. The hybrid time orders entries: it
/// respects cause (an entry made after another was seen comes after it) and stays close to the wall
/// clock while clocks are right. The event time says when the thing happened, in UTC, as a person
/// or a phone claims it; it is kept whatever it says, and marked where it cannot be.
///
/// Nothing here reads a clock: `now_ms` is the caller's wall clock, ms since 1970 in UTC.
/// Source: Kulkarni, Demirbas, Madappa, Avva, Leone: Logical Physical Clocks (OPODIS 2014), fig. 5.
namespace chipfall {

/// A time by the hybrid logical clock: a wall clock's ms, then a counter of entries within them.
struct HybridTime {
  std::int64_t wall_ms = 0;
  std::uint32_t counter = 0;

  std::strong_ordering operator<=>(const HybridTime&) const = default;
};

/// The place of an entry in the ledger: total, since (device, sequence) is unique. Devices compare
/// as unsigned bytes, as SQLite's blobs do.
struct EntryOrder {
  HybridTime clock;
  std::string device;
  std::uint64_t sequence = 0;

  std::strong_ordering operator<=>(const EntryOrder&) const = default;
};

/// A remote clock further ahead of ours than this does not move ours [c.p.]: an hour covers a phone
/// set by hand and a missed change to or from summer time, and is all that one wrong phone can do
/// to the others.
constexpr std::int64_t kMostAhead_ms = 60LL * 60 * 1000;

/// Wall clocks are read as if they stood within these, so that sums never overflow.
constexpr std::int64_t kEarliestWall_ms = 0;
constexpr std::int64_t kLatestWall_ms = 253402300799999;  ///< the last ms of the year 9999

/// One device's hybrid logical clock.
///
/// Guarantees: each `tick` is later than every tick and every accepted remote time before it,
/// whatever `now_ms` does; a full counter carries into the wall part. A remote time too far ahead
/// is refused, so that the entries which carry it sort late but drag nobody along.
/// Limit: after this device's own wall clock stood far ahead, its hybrid time waits there until the
/// wall clock catches up. Others are not moved by it (kMostAhead_ms), and their order holds.
class HybridClock {
 public:
  HybridClock() = default;
  explicit HybridClock(HybridTime last) : last_(last) {}

  /// The time of a new entry of this device.
  HybridTime tick(std::int64_t now_ms);

  /// Takes note of a remote entry's time, so that the next tick is later. False, and nothing moves,
  /// when that time is more than kMostAhead_ms ahead of `now_ms`. Receiving is no entry, so unlike
  /// in the paper it takes no time of its own.
  bool receive(HybridTime remote, std::int64_t now_ms);

  HybridTime last() const { return last_; }

 private:
  HybridTime last_;
};

/// Why an event time cannot be. The values are stored: add, never renumber.
enum class EventDoubt : std::uint8_t {
  kCredible = 0,
  kClockNotSet = 1,  ///< before kEarliestEvent_ms: a phone that woke in 1970, or a time left out
  kBeforeShop = 2,   ///< before this shop existed
  kFuture = 3,       ///< more than kMostFuture_ms after the clock that received it
};

/// No shop kept a ledger before 2020-01-01T00:00Z.
constexpr std::int64_t kEarliestEvent_ms = 1577836800000;

/// An event may lie this far after the receiving clock, which may itself be slow [c.p.].
constexpr std::int64_t kMostFuture_ms = 24LL * 60 * 60 * 1000;

/// What to think of an event time that was received at `received_ms`; `shop_began_ms` is 0 where
/// nobody knows. The verdict is the receiving device's: another one, with another clock, may
/// differ.
EventDoubt doubt_of(std::int64_t event_utc_ms, std::int64_t received_ms,
                    std::int64_t shop_began_ms);

}  // namespace chipfall
