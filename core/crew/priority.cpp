#include "core/crew/priority.h"

#include <algorithm>

#include "core/crew/serial.h"

namespace chipfall {
namespace {

/// How many tasks wait for each, straight or through others.
std::vector<double> all_successors(const Project& project) {
  const size_t count = project.tasks.size();
  std::vector<std::vector<char>> behind(count, std::vector<char>(count, 0));
  const std::vector<int> order = precedence_order(project);
  for (auto task = order.rbegin(); task != order.rend(); ++task) {
    for (const int before : project.tasks[*task].after) {
      behind[before][*task] = 1;
      for (size_t i = 0; i < count; ++i) behind[before][i] |= behind[*task][i];
    }
  }
  std::vector<double> counts(count);
  for (size_t i = 0; i < count; ++i) {
    counts[i] = static_cast<double>(std::ranges::count(behind[i], 1));
  }
  return counts;
}

double share_of_capacity(const Project& project, const Task& task) {
  double share = 0;
  for (size_t r = 0; r < project.capacity.size(); ++r) {
    if (project.capacity[r] > 0) share += task.demand[r] / static_cast<double>(project.capacity[r]);
  }
  return share;
}

bool clash(const Project& project, const Task& a, const Task& b) {
  for (size_t r = 0; r < project.capacity.size(); ++r) {
    if (a.demand[r] + b.demand[r] > project.capacity[r]) return true;
  }
  return false;
}

}  // namespace

std::vector<double> rank_by(const Project& project, Rule rule) {
  const std::vector<Task>& tasks = project.tasks;
  const std::vector<double> ahead = minutes_to_end(project);
  const std::vector<double> before = minutes_before(project);
  std::vector<double> rank(tasks.size(), 0.0);
  const auto each = [&](auto figure) {
    for (size_t i = 0; i < tasks.size(); ++i) rank[i] = figure(i);
  };
  switch (rule) {
    case Rule::kLongestFirst:
      each([&](size_t i) { return -tasks[i].minutes; });
      break;
    case Rule::kLatestStart:
      each([&](size_t i) { return -ahead[i]; });
      break;
    case Rule::kLatestFinish:
      each([&](size_t i) { return tasks[i].minutes - ahead[i]; });
      break;
    case Rule::kLeastSlack:
      each([&](size_t i) { return -ahead[i] - before[i]; });
      break;
    case Rule::kMostSuccessors: {
      const std::vector<double> counts = all_successors(project);
      each([&](size_t i) { return -counts[i]; });
      break;
    }
    case Rule::kGreatestRank: {
      const std::vector<std::vector<int>> successors = successors_of(project);
      each([&](size_t i) {
        double weight = tasks[i].minutes;
        for (const int next : successors[i]) weight += tasks[next].minutes;
        return -weight;
      });
      break;
    }
    case Rule::kGreatestDemand:
      each([&](size_t i) { return -tasks[i].minutes * share_of_capacity(project, tasks[i]); });
      break;
    case Rule::kResourceScheduling:
      // If i goes first, the chain that begins with j ends no sooner than this.
      each([&](size_t i) {
        double cost = 0;
        for (size_t j = 0; j < tasks.size(); ++j) {
          if (j == i || !clash(project, tasks[i], tasks[j])) continue;
          cost = std::max(cost, before[i] + tasks[i].minutes + ahead[j]);
        }
        return cost;
      });
      break;
  }
  return rank;
}

std::vector<int> list_by(const Project& project, Rule rule) {
  return list_by_rank(project, rank_by(project, rule));
}

}  // namespace chipfall
