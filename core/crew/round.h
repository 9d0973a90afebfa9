#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "core/crew/route.h"
#include "core/duty/bin_outlook.h"

/// The coordinator's emptying walk: which bins now, in which order, carrying which bags.
namespace chipfall {

struct RoundAsk {
  /// A bin is emptied from this chance of being full on. More than one half would leave bins that
  /// choke every second time.
  double sure = 0.5;
  /// Days until the next round that is planned; absent: only what is due now.
  std::optional<int> next_round_days;
  std::vector<std::optional<double>> supplies_left;  ///< parallel to Shop::supplies; may be short
};

struct RoundStop {
  Index bin = kNone;
  std::string why;
  double minutes = 0;  ///< on the spot and carrying out, on the clock
  int people = 1;
  double litres = 0;  ///< expected in it
  double kg = 0;      ///< bin and contents
  std::optional<double> lifting_index;
  std::vector<std::string> cautions;
};

struct RoundBags {
  Index supply = kNone;
  int count = 0;
  std::optional<double> left;  ///< in stock before the round
};

struct Round {
  std::vector<RoundStop> stops;  ///< in walking order
  std::vector<Index> looks;      ///< of bins: look first, they may have been emptied
  std::vector<RoundBags> bags;
  double minutes = 0;  ///< on the clock: work and walking
  double walk_minutes = 0;
  double walk_lower_bound_minutes = 0;
  bool proven = false;
  int people = 1;
  std::vector<std::string> cautions;
};

using RouteFinder = std::function<Route(const RouteProblem&)>;

/// A bin is on the round when it is full with at least the asked chance, when its expected fill is
/// at its empty_at or beyond, or when it will be full with a chance of one half before the next
/// round. Bins of which nothing certain is known (BinOutlook::look_first) are to be looked into
/// instead. The walk starts where people gather.
///
/// Minutes: the standard duty's, kEmpty_minutes_per_l for what is in it, and the walk.
Round plan_round(const Shop& shop, const std::vector<BinOutlook>& outlooks, const RoundAsk& ask,
                 double now_day, const RouteFinder& route = shortest_route);

/// Where the sheet and the library have no duty for it [c.p.].
inline constexpr double kEmptying_minutes = 3;

}  // namespace chipfall
