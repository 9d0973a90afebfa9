#pragma once

#include <span>
#include <vector>

#include "core/crew/project.h"

/// Serial schedule generation: tasks in list order, each at the earliest minute at which its
/// predecessors have ended and its demand is free for as long as it takes.
///
/// Gives active timetables (no task could start sooner with all others where they are), and some
/// list gives one of the shortest. Starts are 0 or the end of another task, to the last bit: the
/// end of a task is everywhere the same sum of its start and its minutes.
/// Source: Kelley (1963); properties by Kolisch (1996). Justification: Valls, Ballestin,
/// Quintanilla (2005), forward-backward improvement: Li and Willis (1992).
namespace chipfall {

/// Generates timetables of one project, which has no mistakes and outlives it.
class Serial {
 public:
  explicit Serial(const Project& project);

  /// `list` has each task once, behind its predecessors. The answer stands until the next call.
  const Timetable& place(std::span<const int> list);

 private:
  double earliest(int task, double ready) const;
  void take(int task, double start, double end);
  size_t split(double minute);

  const Project& project_;
  size_t resources_;
  Timetable timetable_;
  // What is free from each minute up to the next one; the last row stands for ever.
  std::vector<double> from_;
  std::vector<int> free_;
};

/// The tasks behind their predecessors; among those that could come next, the one of least rank,
/// and of equal rank the lowest number.
std::vector<int> list_by_rank(const Project& project, std::span<const double> rank);

/// The timetable of a list in any order: of the tasks whose predecessors are placed, the first in
/// the list is placed next.
Timetable serial_forward(const Project& project, std::span<const int> list);

/// The same from the far end: tasks are placed from the last one of the list to the first, each as
/// late as it can be, and then moved left in order of their starts.
Timetable serial_backward(const Project& project, std::span<const int> list);

/// Shifts all tasks right, in order of their ends, then left, in order of their new starts. Never
/// longer than the timetable it is given, but for rounding; two evaluations.
class Justification {
 public:
  explicit Justification(const Project& project);
  const Timetable& justify(const Timetable& timetable);

  /// The list that gave the last answer.
  const std::vector<int>& list() const { return list_; }

 private:
  Project mirrored_project_;
  Serial forward_;
  Serial mirrored_;
  std::vector<int> position_;  // of each task in some order that respects precedence
  std::vector<int> list_;
};

/// The tasks by start, those of the same start in precedence order: the list that gives the same
/// timetable or a shorter one.
std::vector<int> list_of(const Project& project, const Timetable& timetable);

}  // namespace chipfall
