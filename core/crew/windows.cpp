#include "core/crew/windows.h"

#include <algorithm>
#include <utility>

namespace chipfall {
namespace {

/// Windows that creep by little each time end the shrinking before they meet.
constexpr int kMostRounds = 30;

/// Of one resource, to look at for energy: more than 120 tasks of unlike durations have. Beyond it,
/// a bound would take longer than the search for a timetable.
constexpr size_t kMostIntervals = 20000;

constexpr double kRounding = 1e-10;  // of the length in question

bool fit_together(const Project& project, const Task& a, const Task& b) {
  for (size_t r = 0; r < project.capacity.size(); ++r) {
    if (a.demand[r] + b.demand[r] > project.capacity[r]) return false;
  }
  return true;
}

}  // namespace

Windows::Windows(const Project& project, std::vector<double> before, std::vector<double> to_end)
    : project_(project),
      before_(std::move(before)),
      to_end_(std::move(to_end)),
      exclusive_(project.tasks.size()) {
  for (size_t a = 0; a < project.tasks.size(); ++a) {
    for (size_t b = 0; b < project.tasks.size(); ++b) {
      if (a == b || project.tasks[a].minutes <= 0 || project.tasks[b].minutes <= 0) continue;
      if (fit_together(project, project.tasks[a], project.tasks[b])) continue;
      exclusive_[a].push_back(static_cast<int>(b));
    }
  }
}

bool Windows::may_end_within(double minutes) {
  room_ = minutes * kRounding;
  earliest_ = before_;
  latest_ = to_end_;
  for (size_t i = 0; i < latest_.size(); ++i) {
    latest_[i] = minutes - to_end_[i];
    if (earliest_[i] > latest_[i] + room_) return false;
  }
  for (int round = 0; round < kMostRounds; ++round) {
    moved_ = false;
    if (!shrink()) return false;
    if (!moved_) return true;
  }
  return true;
}

bool Windows::shrink() { return by_precedence() && by_pairs() && by_timetable() && by_energy(); }

bool Windows::raise(int task, double start) {
  if (start <= earliest_[task] + room_) return true;
  earliest_[task] = start;
  moved_ = true;
  return start <= latest_[task] + room_;
}

bool Windows::lower(int task, double start) {
  if (start >= latest_[task] - room_) return true;
  latest_[task] = start;
  moved_ = true;
  return start >= earliest_[task] - room_;
}

bool Windows::by_precedence() {
  const std::vector<int> order = precedence_order(project_);
  const std::vector<Task>& tasks = project_.tasks;
  for (const int task : order) {
    for (const int before : tasks[task].after) {
      if (!raise(task, earliest_[before] + tasks[before].minutes)) return false;
    }
  }
  for (auto task = order.rbegin(); task != order.rend(); ++task) {
    for (const int before : tasks[*task].after) {
      if (!lower(before, latest_[*task] - tasks[before].minutes)) return false;
    }
  }
  return true;
}

bool Windows::by_pairs() {
  const std::vector<Task>& tasks = project_.tasks;
  for (size_t a = 0; a < tasks.size(); ++a) {
    for (const int b : exclusive_[a]) {
      if (earliest_[a] + tasks[a].minutes <= latest_[b] + room_) continue;  // a may come first
      if (!raise(static_cast<int>(a), earliest_[b] + tasks[b].minutes)) return false;
      if (!lower(b, latest_[a] - tasks[b].minutes)) return false;
    }
  }
  return true;
}

/// Does the other task, whenever it starts, run all the time from `from` to `to`?
bool Windows::runs_surely(int other, double from, double to) const {
  return latest_[other] <= from + room_ &&
         to <= earliest_[other] + project_.tasks[other].minutes + room_;
}

bool Windows::by_timetable() {
  const std::vector<Task>& tasks = project_.tasks;
  const size_t count = tasks.size();
  std::vector<double> edges;
  for (size_t i = 0; i < count; ++i) {
    if (latest_[i] + room_ >= earliest_[i] + tasks[i].minutes) continue;
    edges.push_back(latest_[i]);
    edges.push_back(earliest_[i] + tasks[i].minutes);
  }
  std::ranges::sort(edges);
  for (size_t e = 0; e + 1 < edges.size(); ++e) {
    const double from = edges[e];
    const double to = edges[e + 1];
    if (to - from <= 4 * room_) continue;
    std::vector<int> free = project_.capacity;
    std::vector<char> sure(count, 0);
    for (size_t i = 0; i < count; ++i) {
      // Strictly inside, so that a window that touches counts as not running.
      sure[i] = runs_surely(static_cast<int>(i), from, to) ? 1 : 0;
      if (sure[i] == 0) continue;
      for (size_t r = 0; r < free.size(); ++r) free[r] -= tasks[i].demand[r];
    }
    if (std::ranges::any_of(free, [](int units) { return units < 0; })) return false;
    for (size_t i = 0; i < count; ++i) {
      if (sure[i] != 0 || tasks[i].minutes <= 0) continue;
      bool fits = true;
      for (size_t r = 0; r < free.size(); ++r) fits &= tasks[i].demand[r] <= free[r];
      if (fits) continue;
      const int task = static_cast<int>(i);
      const double end = earliest_[i] + tasks[i].minutes;
      if (end > from + room_ && earliest_[i] < to && !raise(task, to)) return false;
      const double last_end = latest_[i] + tasks[i].minutes;
      if (last_end > from && latest_[i] < to - room_ && !lower(task, from - tasks[i].minutes)) {
        return false;
      }
    }
  }
  return true;
}

bool Windows::by_energy() {
  std::vector<double> froms = earliest_;
  std::vector<double> tos;
  for (size_t i = 0; i < project_.tasks.size(); ++i) {
    tos.push_back(latest_[i] + project_.tasks[i].minutes);
  }
  for (std::vector<double>* minutes : {&froms, &tos}) {
    std::ranges::sort(*minutes);
    minutes->erase(std::unique(minutes->begin(), minutes->end()), minutes->end());
  }
  if (froms.size() * tos.size() > kMostIntervals) return true;
  for (size_t r = 0; r < project_.capacity.size(); ++r) {
    for (const double from : froms) {
      for (const double to : tos) {
        if (to > from + room_ && !by_energy_of(r, from, to)) return false;
      }
    }
  }
  return true;
}

bool Windows::by_energy_of(size_t resource, double from, double to) {
  const double span = to - from;
  const double work = project_.capacity[resource] * span;
  const double rounding = room_ * (project_.capacity[resource] + 1);
  const auto inside = [&](double start, double minutes) {
    return std::max(0.0, std::min(to, start + minutes) - std::max(from, start));
  };
  double needed = 0;
  for (size_t i = 0; i < project_.tasks.size(); ++i) {
    const Task& task = project_.tasks[i];
    if (task.demand[resource] == 0) continue;
    needed += task.demand[resource] *
              std::min(inside(earliest_[i], task.minutes), inside(latest_[i], task.minutes));
  }
  if (needed > work + rounding) return false;
  if (needed < 0.5 * work) return true;
  for (size_t i = 0; i < project_.tasks.size(); ++i) {
    const Task& task = project_.tasks[i];
    const int demand = task.demand[resource];
    if (demand == 0) continue;
    const double early = inside(earliest_[i], task.minutes);
    const double late = inside(latest_[i], task.minutes);
    const double spare = work - (needed - demand * std::min(early, late));
    if (demand * early > spare + rounding &&
        !raise(static_cast<int>(i), to - spare / demand - room_)) {
      return false;
    }
    if (demand * late > spare + rounding &&
        !lower(static_cast<int>(i), from + spare / demand - task.minutes + room_)) {
      return false;
    }
  }
  return true;
}

}  // namespace chipfall
