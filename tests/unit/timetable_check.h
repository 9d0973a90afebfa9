#pragma once

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "core/crew/project.h"

/// Can this timetable be kept? Shares no code with what makes timetables.
namespace chipfall::test {

/// Something that happens from `start` to `end` minutes and holds units of resources meanwhile.
struct Run {
  std::string name;  ///< for the fault's text
  double start = 0;
  double end = 0;
  std::vector<int> demand;  ///< one for each capacity
  std::vector<int> after;   ///< indices of runs that end first
};

/// The first fault in words, empty when there is none: a start before 0 or after the end, a run
/// that starts before one it comes after has ended, more of a resource in use than there is. Ends
/// and starts that overlap by no more than `tolerance_minutes` count as touching.
inline std::string fault_of(const std::vector<Run>& runs, const std::vector<int>& capacity,
                            double tolerance_minutes = 1e-9) {
  const double tolerance = tolerance_minutes;
  for (const Run& run : runs) {
    if (!(run.start >= -tolerance) || !(run.end >= run.start) || !std::isfinite(run.end)) {
      return run.name + " runs from " + std::to_string(run.start) + " to " +
             std::to_string(run.end);
    }
    for (const int before : run.after) {
      if (runs[before].end <= run.start + tolerance) continue;
      return run.name + " starts at " + std::to_string(run.start) + ", before " +
             runs[before].name + " ends at " + std::to_string(runs[before].end);
    }
  }
  // What is in use grows only where something starts.
  for (const Run& moment : runs) {
    for (size_t r = 0; r < capacity.size(); ++r) {
      int used = 0;
      for (const Run& run : runs) {
        const bool holds = run.start <= moment.start && run.end > moment.start + tolerance;
        if (holds) used += run.demand.at(r);
      }
      if (used > capacity[r]) {
        return "at minute " + std::to_string(moment.start) + ", when " + moment.name + " starts, " +
               std::to_string(used) + " of resource " + std::to_string(r) +
               " are in use, and there are " + std::to_string(capacity[r]);
      }
    }
  }
  return {};
}

/// The same of a project's timetable, which must also have one start for each task and the length
/// of its last end.
inline std::string fault_of(const Project& project, const Timetable& timetable) {
  if (timetable.start.size() != project.tasks.size()) return "not one start for each task";
  std::vector<Run> runs;
  double last = 0;
  for (size_t i = 0; i < project.tasks.size(); ++i) {
    const Task& task = project.tasks[i];
    const double start = timetable.start[i];
    runs.push_back(
        {"task " + std::to_string(i), start, start + task.minutes, task.demand, task.after});
    last = std::max(last, start + task.minutes);
  }
  if (std::abs(last - timetable.minutes) > 1e-9 * (1 + last)) {
    return "said to end at " + std::to_string(timetable.minutes) + ", ends at " +
           std::to_string(last);
  }
  return fault_of(runs, project.capacity, 1e-9 * (1 + last));
}

}  // namespace chipfall::test
