#pragma once

#include <limits>
#include <string>
#include <vector>

#include "core/bins/belief.h"

/// A bin's past, folded into a belief.
namespace chipfall {

/// Something that happened to one bin.
struct BinEvent {
  /// In this order when they happen at once: who empties a bin looked at it first.
  enum class Kind { kPush, kSighting, kEmptied };

  std::string id;  ///< of the entry that told it; the same id twice is the same event
  double day = 0;  ///< when it happened, in days since any fixed midnight
  Kind kind = Kind::kPush;
  double expected_share = 0;            ///< push: of the volume, before the rate factor
  double spread = kPushSpread;          ///< push: as in `pushed`
  Sighting sighting = Sighting::kRoom;  ///< sighting

  bool operator==(const BinEvent&) const = default;
};

BinEvent push_event(std::string id, double day, double expected_share, double spread = kPushSpread);
BinEvent sighting_event(std::string id, double day, Sighting sighting);
BinEvent emptied_event(std::string id, double day);

/// By day, then kind, then id, then the rest, so that the order does not depend on arrival. Of
/// events with the same id the first in this order stays; an empty id is nobody's double. Events
/// whose day is not a finite number are left out.
std::vector<BinEvent> in_event_order(std::vector<BinEvent> events);

/// Forgetting takes years: in a fold it is done every three weeks, not between any two events.
inline constexpr double kDriftAtOnce_days = 21;

/// A belief that takes events in, one after another in event order, and can be asked on the way.
class Folding {
 public:
  explicit Folding(const BinPrior& prior = {}) : belief_(start(prior)) {}
  void take(const BinEvent& event);
  Belief at(double day) const;  ///< not before the last event

 private:
  Belief belief_;
  double drifted_to_ = std::numeric_limits<double>::quiet_NaN();  ///< nothing taken in yet
};

/// The belief after these events, whatever order they arrived in, bit for bit. Late evidence takes
/// its place in time. It stands at `until_day`, later events left out; without one, at the last
/// event.
Belief fold(std::vector<BinEvent> events, const BinPrior& prior = {},
            double until_day = std::numeric_limits<double>::infinity());

}  // namespace chipfall
