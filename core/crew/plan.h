#pragma once

#include <cstdint>

#include "core/crew/crew_bound.h"
#include "core/crew/timetable.h"

/// Who does what, in which order: a timetable for a crew that is hard to improve, and how far from
/// the best possible it can be at most.
namespace chipfall {

/// Budgets are counted, not timed: the same input gives the same plan on every phone.
struct PlanLimits {
  int evaluations = 36000;  ///< timetables that improvement may try
  long nodes = 200000;      ///< of the exact search, where it is tried at all
  size_t exact_up_to = 6;   ///< tasks
  std::uint64_t seed = 1;
};

struct CrewPlan {
  CrewTimetable timetable;
  double lower_bound_minutes = 0;  ///< nobody can finish sooner
  bool proven = false;             ///< no plan finishes sooner than this one
  int evaluations = 0;
};

/// Serial generation under several priority rules, then seeded moves of single tasks within their
/// precedence. The measure is the minute at which the last one is home; a little is given for less
/// walking and for sharing out what is unpleasant. One person alone keeps the order of the list:
/// search would only trade its phases for seconds of walking.
CrewPlan plan_crew(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& tasks,
                   const PlanLimits& limits = {});

/// The plain rule to measure against: of the tasks that could begin, the longest first.
CrewTimetable longest_first(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& tasks);

}  // namespace chipfall
