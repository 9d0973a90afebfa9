#pragma once

#include <optional>

#include "core/crew/little_time.h"
#include "core/crew/plan.h"
#include "core/duty/wind_down.h"

/// The whole answer for a crew: the list, who does what of it, when to stop cutting, and what is
/// passed on when time is short.
namespace chipfall {

struct EveningOptions {
  std::optional<Crew> crew;              ///< absent: as many as the session says, all tools there
  std::vector<std::string> done;         ///< ids of duties that need no planning any more
  std::optional<double> within_minutes;  ///< only so much time; absent: as long as it takes
  std::optional<int> begin_minute;       ///< of the day: the plan begins then, whenever it ends
  PlanLimits limits;
};

struct Finish {
  double minutes_median = 0;
  double minutes_p80 = 0;  ///< four evenings in five the last one is home by then
  double lower_bound_minutes = 0;
  bool proven = false;                   ///< nobody could finish the median minutes' work sooner
  double over_minutes = 0;               ///< by which the safety duties alone exceed the time given
  std::optional<double> within_minutes;  ///< the time that there was, where it was short
  /// Minutes after midnight; below 0 on the day before. Absent when nobody said when to leave.
  std::optional<int> tools_down_by_minute;
  /// Minute of the day at which the lanes begin: when the tools go down, or now.
  std::optional<int> begin_minute;
};

struct Evening {
  WindDown list;
  Crew crew;
  CrewTimetable timetable;  ///< tasks are indices of list.duties
  Finish finish;
  std::vector<PassedOn> passed_on;  ///< indices of list.duties
  std::vector<Index> done;          ///< of list.duties, before the plan was made
  std::string sharing;              ///< how the unpleasant duties are shared, in kind words
};

/// From the list to the evening. The finish time comes from replaying the timetable with minutes
/// drawn from their spreads; "tools down by" leaves the 80 % figure, and never less than the
/// shop's minimum.
Evening plan_evening(const Shop& shop, const Session& session, WindDown list,
                     const EveningOptions& options = {});

}  // namespace chipfall
