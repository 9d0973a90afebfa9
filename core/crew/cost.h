#pragma once

#include "core/crew/timetable.h"

/// What a plan is judged by.
namespace chipfall {

/// Minutes of everybody's evening that a minute of walking, of unfairness or of the tasks' mean end
/// is worth: enough that nobody crosses the shop for a few seconds' gain, leaves what is for safety
/// to the end, or stands idle while there is something to do.
inline constexpr double kWalkWorth = 0.1;
inline constexpr double kUnfairWorth = 0.05;
inline constexpr double kWaitWorth = 0.02;
inline constexpr double kUrgentWorth = 0.1;
/// A task that nobody can do weighs more than any timetable.
inline constexpr double kLeftOutWorth = 1e4;

/// Minutes of everybody's evening, with a little for walking, unfairness, and what is urgent or
/// could have been done sooner. Grows with each of them.
inline double cost_of(const CrewSums& sums) {
  return sums.minutes + kWalkWorth * sums.walked_minutes + kUnfairWorth * sums.unfair_minutes +
         kWaitWorth * sums.waited_minutes + kUrgentWorth * sums.urgent_minutes;
}

/// The same, with what is left out outweighing everything.
inline double cost(const CrewTimetable& timetable) {
  return cost_of(timetable) + kLeftOutWorth * static_cast<double>(timetable.left_out.size());
}

}  // namespace chipfall
