#pragma once

#include <string>
#include <vector>

/// The scheduling problem without any woodshop in it: tasks that take time and share resources.
///
/// A project is the resource-constrained project scheduling problem with renewable resources: every
/// task runs once and without a break, starts no sooner than each task in `after` has ended, holds
/// its demand of every resource from start to end, and gives it back. Sought is the timetable with
/// the earliest last end. Tasks and resources are numbered from 0, as they stand in the vectors.
///
/// A task is in progress from its start up to but not at its end, so one may start on the minute at
/// which another ends, and a task of zero minutes holds nothing.
/// Source: Pritsker, Watters, Wolfe (1969); survey Brucker, Drexl, Moehring, Neumann, Pesch (1999).
namespace chipfall {

inline constexpr int kMostUnits = 1000000;   ///< of a resource, so that sums stay whole numbers
inline constexpr double kMostMinutes = 1e9;  ///< of a task: centuries, and sums stay exact enough

struct Task {
  double minutes = 0;
  std::vector<int> demand;  ///< units of each resource of the project, in its order
  std::vector<int> after;   ///< tasks that end first
};

struct Project {
  std::vector<Task> tasks;
  std::vector<int> capacity;  ///< units there are of each resource
};

/// When each task starts, from 0, and when the last one ends.
struct Timetable {
  std::vector<double> start;
  double minutes = 0;
};

/// What is wrong with a project, in words; empty when nothing is. Wrong are: durations that are
/// negative, above kMostMinutes or no number; demands that are negative, above the capacity, or not
/// one for each resource; capacities that are negative or above kMostUnits; predecessors that do
/// not exist; tasks that wait for each other in a circle. Everything else in core/crew/ that takes
/// a project takes one without mistakes.
std::string mistake_of(const Project& project);

/// For each task, those that wait for it.
std::vector<std::vector<int>> successors_of(const Project& project);

/// All tasks, each behind those it waits for; among those that could come next, the lowest number.
/// Shorter than the project when tasks wait for each other in a circle.
std::vector<int> precedence_order(const Project& project);

/// The same project with time running backwards: a timetable of one, mirrored, is one of the other.
Project reversed(const Project& project);

/// Minutes from the start of each task to the end of the longest chain that begins with it, as if
/// resources were plenty.
std::vector<double> minutes_to_end(const Project& project);

/// Minutes of the longest chain of tasks before each one, as if resources were plenty.
std::vector<double> minutes_before(const Project& project);

}  // namespace chipfall
