#pragma once

#include "core/crew/project.h"

/// The shortest timetable by branch and bound.
///
/// Time runs over the decision points 0 and every end. At each, all tasks whose predecessors are
/// over start; where that takes more of a resource than there is, the search branches over the
/// smallest sets of running tasks whose delay makes room, also of tasks that started before. A
/// delayed task starts at the next decision point or later. Some path of such choices leads to a
/// shortest timetable: at every point, nothing is placed later than in it, and what is not placed
/// does not start before now in it.
/// A point is left when a bound (partial.h) says that it leads to nothing shorter, or when one that
/// was searched before covers it.
/// Source: Demeulemeester and Herroelen (1992, 1997), without their left-shift rule.
namespace chipfall {

struct ExactLimits {
  double lower_bound = 0;  ///< minutes; the search ends when a timetable meets it
  long nodes = 0;          ///< decision points, and as much work in the search for delaying sets
};

struct Exact {
  Timetable timetable;     ///< the best found, or the one given
  bool exhausted = false;  ///< nothing is shorter, by more than kSameMinutes (bound.h) of it
  long nodes = 0;
};

/// Nothing is searched when there are more than kMostExactTasks tasks (partial.h).
Exact search_exactly(const Project& project, const Timetable& best, const ExactLimits& limits);

}  // namespace chipfall
