#pragma once

#include <algorithm>
#include <limits>
#include <vector>

#include "core/crew/project.h"
#include "random_shop.h"

/// Projects small enough to try everything, and trying everything.
namespace chipfall::test {

/// `tasks` of them, by whole, decimal or arbitrary minutes; now and then one without minutes.
inline Project small_project(unsigned seed, int tasks) {
  Dice dice(seed);
  Project project;
  const int resources = 1 + dice.upto(2);
  for (int r = 0; r < resources; ++r) project.capacity.push_back(1 + dice.upto(5));
  const int minutes = dice.upto(2);
  for (int i = 0; i < tasks; ++i) {
    Task task;
    if (minutes == 0) task.minutes = 1 + dice.upto(8);
    if (minutes == 1) task.minutes = 0.1 * (1 + dice.upto(30));
    if (minutes == 2) task.minutes = dice.between(0.01, 9);
    if (dice.upto(11) == 0) task.minutes = 0;
    for (const int units : project.capacity) {
      task.demand.push_back(dice.upto(2) == 0 ? 0 : dice.upto(units));
    }
    for (int before = 0; before < i; ++before) {
      if (dice.upto(4) == 0) task.after.push_back(before);
    }
    project.tasks.push_back(task);
  }
  return project;
}

/// The shortest timetable by brute force: every order of the tasks, each task at the first minute,
/// of 0 and all ends, at which it fits until its end. Shares no code with the solver.
class EveryOrder {
 public:
  explicit EveryOrder(const Project& project)
      : project_(project), start_(project.tasks.size(), -1.0) {}

  double minutes() {
    best_ = std::numeric_limits<double>::infinity();
    next(0, 0);
    return best_;
  }

 private:
  double end(size_t task) const { return start_[task] + project_.tasks[task].minutes; }
  bool placed(size_t task) const { return start_[task] >= 0; }

  void next(size_t count, double last) {
    if (count == start_.size()) best_ = std::min(best_, last);
    for (size_t task = 0; task < start_.size(); ++task) {
      const auto waits = [&](int before) { return !placed(before); };
      if (placed(task) || std::ranges::any_of(project_.tasks[task].after, waits)) continue;
      const double at = first_fit(task);
      start_[task] = at;
      next(count + 1, std::max(last, end(task)));
      start_[task] = -1;
    }
  }

  double first_fit(size_t task) const {
    double ready = 0;
    for (const int before : project_.tasks[task].after) ready = std::max(ready, end(before));
    double first = std::numeric_limits<double>::infinity();
    if (fits(task, ready)) return ready;
    for (size_t other = 0; other < start_.size(); ++other) {
      if (!placed(other) || end(other) < ready || end(other) >= first) continue;
      if (fits(task, end(other))) first = end(other);
    }
    return first;
  }

  bool fits(size_t task, double at) const {
    const double until = at + project_.tasks[task].minutes;
    if (!has_room(task, at, at)) return false;
    for (size_t other = 0; other < start_.size(); ++other) {
      if (!placed(other) || start_[other] <= at || start_[other] >= until) continue;
      if (!has_room(task, start_[other], at)) return false;
    }
    return true;
  }

  /// Of every resource at one minute, for the task that would start at `at`.
  bool has_room(size_t task, double minute, double at) const {
    if (at + project_.tasks[task].minutes <= minute) return true;
    for (size_t r = 0; r < project_.capacity.size(); ++r) {
      int used = project_.tasks[task].demand[r];
      for (size_t other = 0; other < start_.size(); ++other) {
        const bool runs = placed(other) && start_[other] <= minute && end(other) > minute;
        if (runs) used += project_.tasks[other].demand[r];
      }
      if (used > project_.capacity[r]) return false;
    }
    return true;
  }

  const Project& project_;
  std::vector<double> start_;  // below 0: not placed
  double best_ = 0;
};

}  // namespace chipfall::test
