#include "core/crew/serial.h"

#include <algorithm>
#include <functional>
#include <numeric>
#include <queue>
#include <utility>

namespace chipfall {
namespace {

std::vector<int> positions(const Project& project) {
  std::vector<int> position(project.tasks.size());
  int next = 0;
  for (const int task : precedence_order(project)) position[task] = next++;
  return position;
}

}  // namespace

Serial::Serial(const Project& project) : project_(project), resources_(project.capacity.size()) {
  timetable_.start.resize(project.tasks.size());
}

const Timetable& Serial::place(std::span<const int> list) {
  from_.assign(1, 0.0);
  free_ = project_.capacity;
  timetable_.minutes = 0;
  for (const int task : list) {
    const Task& at = project_.tasks[task];
    double ready = 0;
    for (const int before : at.after) {
      ready = std::max(ready, timetable_.start[before] + project_.tasks[before].minutes);
    }
    const double start = earliest(task, ready);
    const double end = start + at.minutes;
    timetable_.start[task] = start;
    timetable_.minutes = std::max(timetable_.minutes, end);
    take(task, start, end);
  }
  return timetable_;
}

double Serial::earliest(int task, double ready) const {
  const Task& at = project_.tasks[task];
  if (at.minutes <= 0) return ready;
  size_t row = std::ranges::upper_bound(from_, ready) - from_.begin() - 1;
  double start = ready;
  for (double end = start + at.minutes; row < from_.size() && from_[row] < end; ++row) {
    const int* free = free_.data() + row * resources_;
    for (size_t r = 0; r < resources_; ++r) {
      if (at.demand[r] <= free[r]) continue;
      start = from_[row + 1];  // there is one: in the last row everything is free
      end = start + at.minutes;
      break;
    }
  }
  return start;
}

void Serial::take(int task, double start, double end) {
  if (end <= start) return;
  const size_t first = split(start);
  const size_t last = split(end);
  const std::vector<int>& demand = project_.tasks[task].demand;
  for (size_t row = first; row < last; ++row) {
    for (size_t r = 0; r < resources_; ++r) free_[row * resources_ + r] -= demand[r];
  }
}

size_t Serial::split(double minute) {
  const auto at = std::ranges::lower_bound(from_, minute);
  const size_t row = at - from_.begin();
  if (at != from_.end() && *at == minute) return row;
  from_.insert(at, minute);
  const size_t width = resources_;
  free_.resize(free_.size() + width);
  const auto before = free_.begin() + static_cast<long>((row - 1) * width);
  std::copy_backward(before, free_.end() - static_cast<long>(width), free_.end());
  return row;
}

std::vector<int> list_by_rank(const Project& project, std::span<const double> rank) {
  const std::vector<std::vector<int>> successors = successors_of(project);
  std::vector<int> waits(project.tasks.size(), 0);
  for (const std::vector<int>& waiting : successors) {
    for (const int task : waiting) ++waits[task];
  }
  using Entry = std::pair<double, int>;
  std::priority_queue<Entry, std::vector<Entry>, std::greater<>> ready;
  for (size_t task = 0; task < waits.size(); ++task) {
    if (waits[task] == 0) ready.emplace(rank[task], static_cast<int>(task));
  }
  std::vector<int> list;
  list.reserve(waits.size());
  while (!ready.empty()) {
    const int task = ready.top().second;
    ready.pop();
    list.push_back(task);
    for (const int next : successors[task]) {
      if (--waits[next] == 0) ready.emplace(rank[next], next);
    }
  }
  return list;
}

Timetable serial_forward(const Project& project, std::span<const int> list) {
  std::vector<double> rank(list.size());
  for (size_t i = 0; i < list.size(); ++i) rank[list[i]] = static_cast<double>(i);
  return Serial(project).place(list_by_rank(project, rank));
}

Timetable serial_backward(const Project& project, std::span<const int> list) {
  const Project mirrored = reversed(project);
  const std::vector<int> back(list.rbegin(), list.rend());
  const Timetable late = serial_forward(mirrored, back);
  std::vector<double> rank(list.size());
  for (size_t task = 0; task < rank.size(); ++task) {
    rank[task] = -(late.start[task] + project.tasks[task].minutes);
  }
  // Placed again from the left in this order, so that starts are sums of minutes and not
  // differences, which could overlap by a rounding error. Nothing starts later than mirrored.
  return Serial(project).place(list_by_rank(project, rank));
}

Justification::Justification(const Project& project)
    : mirrored_project_(reversed(project)),
      forward_(project),
      mirrored_(mirrored_project_),
      position_(positions(project)),
      list_(project.tasks.size()) {}

const Timetable& Justification::justify(const Timetable& timetable) {
  const std::vector<Task>& tasks = mirrored_project_.tasks;
  std::iota(list_.begin(), list_.end(), 0);
  const auto end = [&](int task) { return timetable.start[task] + tasks[task].minutes; };
  std::ranges::sort(list_, [&](int a, int b) {
    return end(a) != end(b) ? end(a) > end(b) : position_[a] > position_[b];
  });
  const Timetable& late = mirrored_.place(list_);
  const auto left = [&](int task) { return late.start[task] + tasks[task].minutes; };
  std::ranges::sort(list_, [&](int a, int b) {
    return left(a) != left(b) ? left(a) > left(b) : position_[a] < position_[b];
  });
  return forward_.place(list_);
}

std::vector<int> list_of(const Project& project, const Timetable& timetable) {
  return list_by_rank(project, timetable.start);
}

}  // namespace chipfall
