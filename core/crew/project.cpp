#include "core/crew/project.h"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <queue>

namespace chipfall {
namespace {

std::string mistake_in_demand(const Project& project, size_t task) {
  const std::vector<int>& demand = project.tasks[task].demand;
  if (demand.size() != project.capacity.size()) {
    return fmt::format("task {}: {} demands, but the project has {} resources", task, demand.size(),
                       project.capacity.size());
  }
  for (size_t r = 0; r < demand.size(); ++r) {
    if (demand[r] < 0) {
      return fmt::format("task {}: its demand of resource {} is {}; at least 0", task, r,
                         demand[r]);
    }
    if (demand[r] > project.capacity[r]) {
      return fmt::format("task {}: it demands {} of resource {}, and there are only {}", task,
                         demand[r], r, project.capacity[r]);
    }
  }
  return {};
}

std::string mistake_in_task(const Project& project, size_t task) {
  const Task& at = project.tasks[task];
  if (!(at.minutes >= 0) || at.minutes > kMostMinutes) {
    return fmt::format("task {}: it takes {} minutes; a number from 0 to {}", task, at.minutes,
                       kMostMinutes);
  }
  for (const int before : at.after) {
    if (before < 0 || static_cast<size_t>(before) >= project.tasks.size()) {
      return fmt::format("task {}: it comes after task {}, but tasks are 0 to {}", task, before,
                         project.tasks.size() - 1);
    }
  }
  return mistake_in_demand(project, task);
}

}  // namespace

std::string mistake_of(const Project& project) {
  for (size_t r = 0; r < project.capacity.size(); ++r) {
    if (project.capacity[r] < 0 || project.capacity[r] > kMostUnits) {
      return fmt::format("resource {}: its capacity is {}; from 0 to {}", r, project.capacity[r],
                         kMostUnits);
    }
  }
  for (size_t task = 0; task < project.tasks.size(); ++task) {
    if (std::string said = mistake_in_task(project, task); !said.empty()) return said;
  }
  const std::vector<int> order = precedence_order(project);
  if (order.size() == project.tasks.size()) return {};
  std::vector<char> placed(project.tasks.size(), 0);
  for (const int task : order) placed[task] = 1;
  return fmt::format("task {}: it waits for itself, through the tasks that it comes after",
                     std::ranges::find(placed, 0) - placed.begin());
}

std::vector<std::vector<int>> successors_of(const Project& project) {
  std::vector<std::vector<int>> successors(project.tasks.size());
  for (size_t task = 0; task < project.tasks.size(); ++task) {
    for (const int before : project.tasks[task].after) {
      std::vector<int>& waiting = successors[before];
      if (waiting.empty() || waiting.back() != static_cast<int>(task)) {
        waiting.push_back(static_cast<int>(task));
      }
    }
  }
  return successors;
}

std::vector<int> precedence_order(const Project& project) {
  std::vector<std::vector<int>> successors(project.tasks.size());
  std::vector<size_t> waits(project.tasks.size());
  std::priority_queue<int, std::vector<int>, std::greater<>> ready;
  for (size_t task = 0; task < project.tasks.size(); ++task) {
    waits[task] = project.tasks[task].after.size();
    if (waits[task] == 0) ready.push(static_cast<int>(task));
    for (const int before : project.tasks[task].after) {
      successors[before].push_back(static_cast<int>(task));
    }
  }
  std::vector<int> order;
  while (!ready.empty()) {
    order.push_back(ready.top());
    ready.pop();
    for (const int next : successors[order.back()]) {
      if (--waits[next] == 0) ready.push(next);
    }
  }
  return order;
}

Project reversed(const Project& project) {
  Project mirrored = project;
  const std::vector<std::vector<int>> successors = successors_of(project);
  for (size_t task = 0; task < project.tasks.size(); ++task) {
    mirrored.tasks[task].after = successors[task];
  }
  return mirrored;
}

std::vector<double> minutes_to_end(const Project& project) {
  std::vector<double> to_end(project.tasks.size(), 0.0);
  const std::vector<int> order = precedence_order(project);
  for (auto at = order.rbegin(); at != order.rend(); ++at) {
    to_end[*at] += project.tasks[*at].minutes;
    for (const int before : project.tasks[*at].after) {
      to_end[before] = std::max(to_end[before], to_end[*at]);
    }
  }
  return to_end;
}

std::vector<double> minutes_before(const Project& project) {
  std::vector<double> before(project.tasks.size(), 0.0);
  for (const int task : precedence_order(project)) {
    for (const int earlier : project.tasks[task].after) {
      before[task] = std::max(before[task], before[earlier] + project.tasks[earlier].minutes);
    }
  }
  return before;
}

}  // namespace chipfall
