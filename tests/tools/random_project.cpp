#include "tests/tools/random_project.h"

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

namespace chipfall::test {
namespace {

class Dice {
 public:
  explicit Dice(unsigned long long seed) : engine_(seed) {}
  int from_to(int low, int high) {
    return low + static_cast<int>(engine_() % static_cast<unsigned>(high - low + 1));
  }

 private:
  std::mt19937_64 engine_;
};

/// Tasks are numbered so that arcs go upwards; none may follow from two others.
class Network {
 public:
  explicit Network(const RandomProject& settings)
      : count_(settings.tasks),
        most_(std::max(1, std::min(settings.most_neighbours, settings.tasks / 2))),
        arcs_(count_, std::vector<char>(count_, 0)),
        reaches_(arcs_),
        before_(count_, 0),
        behind_(count_, 0) {}

  void grow(double complexity, Dice& dice);
  bool arc(int from, int to) const { return arcs_[from][to] != 0; }

 private:
  bool add(int from, int to, int most);
  bool redundant(int from, int to) const;

  int count_;
  int most_;  // that start, that end, and beside any task
  std::vector<std::vector<char>> arcs_;
  std::vector<std::vector<char>> reaches_;
  std::vector<int> before_;
  std::vector<int> behind_;
};

bool Network::redundant(int from, int to) const {
  if (reaches_[from][to] != 0) return true;
  for (int a = 0; a <= from; ++a) {
    if (a != from && reaches_[a][from] == 0) continue;
    for (int b = to; b < count_; ++b) {
      if ((b == to || reaches_[to][b] != 0) && arcs_[a][b] != 0) return true;
    }
  }
  return false;
}

bool Network::add(int from, int to, int most) {
  if (behind_[from] >= most || before_[to] >= most || redundant(from, to)) return false;
  arcs_[from][to] = 1;
  ++behind_[from];
  ++before_[to];
  for (int a = 0; a <= from; ++a) {
    if (a != from && reaches_[a][from] == 0) continue;
    reaches_[a][to] = 1;
    for (int b = to; b < count_; ++b) reaches_[a][b] |= reaches_[to][b];
  }
  return true;
}

/// One predecessor for every task but the first few, one successor for every one but the last few,
/// then arcs at random until there are enough, or until none fits for a long while.
void Network::grow(double complexity, Dice& dice) {
  const int last_start = most_ - 1;
  const int first_end = count_ - most_;
  for (int to = most_; to < count_; ++to) {
    for (int tries = 0; tries < 1000 && before_[to] == 0; ++tries) {
      add(dice.from_to(0, std::min(to, first_end) - 1), to, most_);
    }
  }
  for (int from = first_end - 1; from >= 0; --from) {
    for (int tries = 0; tries < 1000 && behind_[from] == 0; ++tries) {
      add(from, dice.from_to(std::max(from, last_start) + 1, count_ - 1), most_);
    }
  }
  const int wanted = static_cast<int>(std::lround(complexity * (count_ + 2)));
  for (int tries = 0; tries < 100000; ++tries) {
    int arcs = 0;
    for (int task = 0; task < count_; ++task) {
      arcs += behind_[task] + (before_[task] == 0 ? 1 : 0) + (behind_[task] == 0 ? 1 : 0);
    }
    if (arcs >= wanted) return;
    const int from = dice.from_to(0, first_end - 1);
    add(from, dice.from_to(std::max(from, last_start) + 1, count_ - 1), most_);
  }
}

/// Which demands are not zero: at least one for each task, then more until the factor is met.
void give_demands(const RandomProject& settings, Dice& dice, Project& project) {
  const int cells = settings.tasks * settings.resources;
  const int wanted = static_cast<int>(std::lround(settings.resource_factor * cells));
  int given = 0;
  for (Task& task : project.tasks) {
    task.demand.assign(settings.resources, 0);
    task.demand[dice.from_to(0, settings.resources - 1)] = dice.from_to(1, settings.most_demand);
    ++given;
  }
  while (given < std::min(wanted, cells)) {
    int& demand = project.tasks[dice.from_to(0, settings.tasks - 1)]
                      .demand[dice.from_to(0, settings.resources - 1)];
    if (demand > 0) continue;
    demand = dice.from_to(1, settings.most_demand);
    ++given;
  }
}

/// The most of a resource that is in use at once when every task starts as soon as chains allow.
int peak(const Project& project, size_t resource) {
  const std::vector<double> start = minutes_before(project);
  int most = 0;
  for (const double now : start) {
    int used = 0;
    for (size_t i = 0; i < start.size(); ++i) {
      const bool running = start[i] <= now && now < start[i] + project.tasks[i].minutes;
      if (running) used += project.tasks[i].demand[resource];
    }
    most = std::max(most, used);
  }
  return most;
}

}  // namespace

Project random_project(const RandomProject& settings) {
  Dice dice(settings.seed);
  Network network(settings);
  network.grow(settings.network_complexity, dice);
  Project project;
  project.tasks.resize(settings.tasks);
  for (int task = 0; task < settings.tasks; ++task) {
    project.tasks[task].minutes = dice.from_to(1, settings.longest_minutes);
    for (int before = 0; before < task; ++before) {
      if (network.arc(before, task)) project.tasks[task].after.push_back(before);
    }
  }
  give_demands(settings, dice, project);
  for (int r = 0; r < settings.resources; ++r) {
    int least = 0;
    for (const Task& task : project.tasks) least = std::max(least, task.demand[r]);
    const int most = std::max(least, peak(project, r));
    project.capacity.push_back(
        least + static_cast<int>(std::lround(settings.resource_strength * (most - least))));
  }
  return project;
}

}  // namespace chipfall::test
