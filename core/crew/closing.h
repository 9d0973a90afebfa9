#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/crew/evening.h"
#include "core/crew/route.h"
#include "core/duty/lock_up.h"

/// The lock-up in walking order, and split over whoever helps.
namespace chipfall {

struct ClosingOptions {
  int people = 1;
  std::optional<Crew> crew;              ///< absent: `people` of them, all tools there
  std::vector<std::string> done;         ///< ids of duties that need no planning any more
  std::optional<double> within_minutes;  ///< only so much time: pending ones are passed on again
  std::optional<int> begin_minute;       ///< of the day
  PlanLimits limits;
};

struct ClosingPlan {
  LockUp list;      ///< duties in walking order
  Evening evening;  ///< evening.list.duties parallel to list.duties; minutes there with the walks
  double walk_minutes = 0;        ///< of one person alone, from stop to stop
  double walk_bound_minutes = 0;  ///< no order of these stops is a shorter walk
  bool walk_proven = false;
};

/// The walk begins where people gather (or where the first of the crew stands) and ends at the way
/// out, past every duty's place under the list's `after`: the shortest there is, or nearly
/// (route.h). A duty without a place is done where one happens to be, as soon as what comes before
/// it is done. For one person that order is the plan; a crew shares the duties out under the same
/// order of need, by plan_crew.
///
/// When time is short the building's duties stay, all of them, and pending safety ones; of the
/// other pending ones those that weigh most.
ClosingPlan plan_closing(const Shop& shop, LockUp list, const ClosingOptions& options = {});

}  // namespace chipfall
