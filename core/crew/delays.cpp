#include "core/crew/delays.h"

#include <algorithm>
#include <limits>
#include <utility>

namespace chipfall {
namespace {

/// The next decision point when these are delayed.
double next_end(const PartialTimetable& at, TaskSet delayed) {
  double next = std::numeric_limits<double>::infinity();
  for_each_task(at.running & ~delayed, [&](int task) { next = std::min(next, at.end[task]); });
  return next;
}

class Sets {
 public:
  Sets(const Remaining& tasks, const PartialTimetable& at, double below, long& steps);
  void from(size_t index, TaskSet chosen);
  std::vector<Delay> found;

 private:
  bool enough() const;
  bool smallest(TaskSet chosen) const;
  void add(TaskSet chosen);
  void move(int task, int sign, std::vector<int>& amount) const;

  const Remaining& tasks_;
  const PartialTimetable& at_;
  double below_;
  long& steps_;
  std::vector<int> excess_;    // by resource, what is too much
  std::vector<int> possible_;  // by resource, what the candidates from here on could give back
  std::vector<int> candidates_;
};

Sets::Sets(const Remaining& tasks, const PartialTimetable& at, double below, long& steps)
    : tasks_(tasks),
      at_(at),
      below_(below),
      steps_(steps),
      excess_(tasks.resources(), 0),
      possible_(tasks.resources(), 0) {
  for (int r = 0; r < tasks.resources(); ++r) {
    for_each_task(at.running, [&](int task) { excess_[r] += tasks.demand(task)[r]; });
    excess_[r] -= tasks.capacity()[r];
  }
  const double soonest = next_end(at, 0);
  for_each_task(at.running, [&](int task) {
    bool helps = false;
    for (int r = 0; r < tasks.resources(); ++r) {
      helps |= excess_[r] > 0 && tasks.demand(task)[r] > 0;
    }
    // A task that cannot be delayed any more is in no set.
    if (helps && soonest + tasks.tail(task) < below) candidates_.push_back(task);
  });
  for (const int task : candidates_) move(task, 1, possible_);
}

void Sets::move(int task, int sign, std::vector<int>& amount) const {
  for (int r = 0; r < tasks_.resources(); ++r) amount[r] += sign * tasks_.demand(task)[r];
}

bool Sets::enough() const {
  return std::ranges::all_of(excess_, [](int excess) { return excess <= 0; });
}

bool Sets::smallest(TaskSet chosen) const {
  bool none_spare = true;
  for_each_task(chosen, [&](int task) {
    bool needed = false;
    for (int r = 0; r < tasks_.resources(); ++r) {
      needed |= excess_[r] + tasks_.demand(task)[r] > 0;
    }
    none_spare &= needed;
  });
  return none_spare;
}

void Sets::add(TaskSet chosen) {
  const double next = next_end(at_, chosen);
  Delay delay{chosen, 0, 0};
  for_each_task(chosen, [&](int task) {
    delay.bound = std::max(delay.bound, next + tasks_.tail(task));
    delay.tails += tasks_.tail(task);
  });
  if (delay.bound < below_) found.push_back(delay);
}

void Sets::from(size_t index, TaskSet chosen) {
  if (--steps_ <= 0) return;
  if (enough()) {
    if (smallest(chosen)) add(chosen);
    return;
  }
  for (size_t r = 0; r < excess_.size(); ++r) {
    if (excess_[r] > possible_[r]) return;
  }
  if (index == candidates_.size()) return;
  const int task = candidates_[index];
  move(task, -1, possible_);
  move(task, -1, excess_);
  from(index + 1, chosen | only(task));
  move(task, 1, excess_);
  from(index + 1, chosen);
  move(task, 1, possible_);
}

}  // namespace

std::vector<Delay> delays_of(const Remaining& tasks, const PartialTimetable& at, double below,
                             long& steps) {
  Sets sets(tasks, at, below, steps);
  sets.from(0, 0);
  std::ranges::stable_sort(sets.found, [](const Delay& a, const Delay& b) {
    return a.bound != b.bound ? a.bound < b.bound : a.tails < b.tails;
  });
  return std::move(sets.found);
}

}  // namespace chipfall
