#include "core/crew/parallel.h"

#include <algorithm>
#include <vector>

namespace chipfall {
namespace {

bool fits(const Task& task, const std::vector<int>& free) {
  if (task.minutes <= 0) return true;
  for (size_t r = 0; r < free.size(); ++r) {
    if (task.demand[r] > free[r]) return false;
  }
  return true;
}

void add(const Task& task, int sign, std::vector<int>& free) {
  if (task.minutes <= 0) return;
  for (size_t r = 0; r < free.size(); ++r) free[r] += sign * task.demand[r];
}

}  // namespace

Timetable parallel_forward(const Project& project, std::span<const int> list) {
  const std::vector<Task>& tasks = project.tasks;
  Timetable timetable{std::vector<double>(tasks.size(), 0.0), 0};
  std::vector<int> free = project.capacity;
  std::vector<int> waiting(list.begin(), list.end());
  std::vector<int> running;
  std::vector<char> ended(tasks.size(), 0);
  const auto end = [&](int task) { return timetable.start[task] + tasks[task].minutes; };
  double now = 0;
  while (!waiting.empty() || !running.empty()) {
    std::erase_if(waiting, [&](int task) {
      const auto has_ended = [&](int before) { return ended[before] != 0; };
      if (!std::ranges::all_of(tasks[task].after, has_ended) || !fits(tasks[task], free)) {
        return false;
      }
      timetable.start[task] = now;
      add(tasks[task], -1, free);
      running.push_back(task);
      return true;
    });
    now = end(*std::ranges::min_element(running, {}, end));
    std::erase_if(running, [&](int task) {
      if (end(task) > now) return false;
      ended[task] = 1;
      add(tasks[task], 1, free);
      return true;
    });
  }
  timetable.minutes = now;
  return timetable;
}

}  // namespace chipfall
