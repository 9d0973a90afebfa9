#include "core/crew/exact.h"

#include <algorithm>
#include <limits>

#include "core/crew/bound.h"
#include "core/crew/delays.h"
#include "core/crew/partial.h"
#include "core/crew/serial.h"

namespace chipfall {
namespace {

/// A step of the search for delaying sets takes about a sixteenth of the time of a decision point.
constexpr long kStepsOfNode = 16;

class Search {
 public:
  Search(const Project& project, const Timetable& best, const ExactLimits& limits)
      : project_(project),
        tasks_(project, strong_minutes_to_end(project)),
        step_(step_minutes(project)),
        limits_(limits),
        best_(best),
        nodes_left_(limits.nodes) {
    aim();
  }

  Exact run();

 private:
  void explore(const PartialTimetable& before);
  void branch(const PartialTimetable& at);
  void start_what_can(PartialTimetable& at) const;
  bool over_capacity(const PartialTimetable& at) const;
  static void go_on(PartialTimetable& at);
  void take(const PartialTimetable& at);
  void aim();
  bool stopped() const { return nodes_left_ <= 0 || best_.minutes <= enough_; }

  const Project& project_;
  Remaining tasks_;
  double step_;
  ExactLimits limits_;
  Timetable best_;
  long nodes_left_;
  double below_ = 0;   // only timetables shorter than this are of interest
  double enough_ = 0;  // the lower bound, with room for rounding
  SearchedPoints searched_;
};

/// Lengths that differ at all differ by a step, where the project has one.
void Search::aim() {
  below_ = best_.minutes - std::max(step_ / 2, kSameMinutes * best_.minutes);
  enough_ = limits_.lower_bound * (1 + kSameMinutes);
}

Exact Search::run() {
  if (!stopped()) explore({});
  const bool exhausted = nodes_left_ > 0 || best_.minutes <= enough_;
  return {best_, exhausted, limits_.nodes - std::max(0L, nodes_left_)};
}

void Search::explore(const PartialTimetable& before) {
  if (--nodes_left_ <= 0) return;
  if (searched_.cover(before) || tasks_.bound(before, below_) >= below_) return;
  PartialTimetable at = before;
  start_what_can(at);
  if (over_capacity(at)) {
    branch(at);
  } else if (at.placed == tasks_.all()) {
    take(at);
  } else {
    go_on(at);
    explore(at);
  }
  if (!stopped()) searched_.keep(before);
}

void Search::branch(const PartialTimetable& at) {
  long steps = nodes_left_ * kStepsOfNode;
  const std::vector<Delay> delays = delays_of(tasks_, at, below_, steps);
  nodes_left_ = steps / kStepsOfNode;
  for (const Delay& delay : delays) {
    if (stopped()) return;
    if (delay.bound >= below_) continue;  // since a shorter timetable was found
    PartialTimetable next = at;
    next.placed &= ~delay.tasks;
    next.running &= ~delay.tasks;
    go_on(next);
    explore(next);
  }
}

void Search::start_what_can(PartialTimetable& at) const {
  const TaskSet over = at.placed & ~at.running;
  for_each_task(tasks_.all() & ~at.placed, [&](int task) {
    if ((tasks_.after(task) & ~over) != 0) return;
    at.placed |= only(task);
    at.running |= only(task);
    at.end[task] = at.now + tasks_.minutes(task);
  });
}

bool Search::over_capacity(const PartialTimetable& at) const {
  for (int r = 0; r < tasks_.resources(); ++r) {
    int used = 0;
    for_each_task(at.running, [&](int task) { used += tasks_.demand(task)[r]; });
    if (used > tasks_.capacity()[r]) return true;
  }
  return false;
}

void Search::go_on(PartialTimetable& at) {
  double next = std::numeric_limits<double>::infinity();
  for_each_task(at.running, [&](int task) { next = std::min(next, at.end[task]); });
  at.now = next;
  for_each_task(at.running, [&](int task) {
    if (at.end[task] <= next) at.running &= ~only(task);
  });
}

/// Placed once more by the serial scheme, which moves what a later delay made room for.
void Search::take(const PartialTimetable& at) {
  std::vector<double> start(project_.tasks.size());
  for (size_t task = 0; task < start.size(); ++task) {
    start[task] = at.end[task] - project_.tasks[task].minutes;
  }
  const Timetable made = Serial(project_).place(list_by_rank(project_, start));
  if (made.minutes >= best_.minutes) return;
  best_ = made;
  aim();
}

}  // namespace

Exact search_exactly(const Project& project, const Timetable& best, const ExactLimits& limits) {
  if (project.tasks.size() > kMostExactTasks) return {best, false, 0};
  return Search(project, best, limits).run();
}

}  // namespace chipfall
