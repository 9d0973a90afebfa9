#include <algorithm>
#include <cmath>

#include "core/crew/route.h"

namespace chipfall {
namespace {

/// Rounds of moving the prices; each shortens the steps where the bound has not risen.
/// Fewer for more stops, as their cube, which is what a tree costs.
constexpr int kMostRounds = 300;
constexpr int kLeastRounds = 5;
constexpr int kStopsForAllRounds = 60;
constexpr int kPatience = 8;
constexpr double kFirstStep = 2;
constexpr double kLeastStep = 1e-4;

/// A way that may be walked.
struct Way {
  int from = 0;
  int to = 0;
  double price = 0;
};

/// Which ways the tree takes, as indices; one into each node but the root. Contracts circles of
/// cheapest ways until there are none (Chu and Liu; Edmonds). Every node can be reached.
std::vector<int> shortest_tree(int nodes, int root, const std::vector<Way>& ways) {
  std::vector<int> best(nodes, -1);
  for (size_t w = 0; w < ways.size(); ++w) {
    const Way& way = ways[w];
    if (way.to == root || way.from == way.to) continue;
    if (best[way.to] < 0 || way.price < ways[best[way.to]].price) {
      best[way.to] = static_cast<int>(w);
    }
  }
  std::vector<int> group(nodes, -1);
  std::vector<int> seen(nodes, -1);
  std::vector<bool> in_circle(nodes, false);
  int groups = 0;
  for (int start = 0; start < nodes; ++start) {
    int at = start;
    while (at != root && seen[at] < 0) {
      seen[at] = start;
      at = ways[best[at]].from;
    }
    if (at == root || seen[at] != start || group[at] >= 0) continue;
    // Came back to this walk: a circle.
    for (int member = at; group[member] < 0; member = ways[best[member]].from) {
      group[member] = groups;
      in_circle[member] = true;
    }
    ++groups;
  }
  if (groups == 0) {
    std::erase(best, -1);
    return best;
  }
  for (int& own : group) {
    if (own < 0) own = groups++;
  }
  std::vector<Way> shrunk;
  std::vector<int> origin;
  for (size_t w = 0; w < ways.size(); ++w) {
    const Way& way = ways[w];
    if (group[way.from] == group[way.to] || way.to == root) continue;
    const double saved = in_circle[way.to] ? ways[best[way.to]].price : 0;
    shrunk.push_back({group[way.from], group[way.to], way.price - saved});
    origin.push_back(static_cast<int>(w));
  }
  std::vector<int> taken;
  std::vector<bool> entered(nodes, false);
  for (int w : shortest_tree(groups, group[root], shrunk)) {
    taken.push_back(origin[w]);
    entered[ways[origin[w]].to] = true;
  }
  for (int node = 0; node < nodes; ++node) {
    if (in_circle[node] && !entered[node]) taken.push_back(best[node]);
  }
  return taken;
}

/// Ways that some route takes. An end of its own, at no cost from everywhere, is added where the
/// problem names none: then every place but the end is left exactly once.
std::vector<Way> possible_ways(const RouteProblem& problem) {
  const int n = static_cast<int>(problem.minutes.size());
  const int end = problem.finish.value_or(n);
  std::vector<std::vector<bool>> first(n + 1, std::vector<bool>(n + 1, false));
  for (const auto& [a, b] : problem.before) first[a][b] = true;
  for (int i = 0; i <= n; ++i) {
    if (i != end && i < n) first[i][end] = true;
    if (i != 0 && i < n) first[0][i] = true;
  }
  for (int k = 0; k <= n; ++k) {
    for (int i = 0; i <= n; ++i) {
      if (!first[i][k]) continue;
      for (int j = 0; j <= n; ++j) first[i][j] = first[i][j] || first[k][j];
    }
  }
  const int nodes = problem.finish ? n : n + 1;
  std::vector<Way> ways;
  for (int i = 0; i < nodes; ++i) {
    for (int j = 1; j < nodes; ++j) {
      if (i == j || i == end || first[j][i]) continue;
      bool between = false;  // something must come after i and before j
      for (int k = 0; k < nodes && !between; ++k) between = first[i][k] && first[k][j];
      if (between) continue;
      ways.push_back({i, j, j == n ? 0 : problem.minutes[i][j]});
    }
  }
  return ways;
}

/// Each stop is come to once.
double shortest_ways_in(const WalkMatrix& minutes) {
  double total = 0;
  for (size_t to = 1; to < minutes.size(); ++to) {
    double least = HUGE_VAL;
    for (size_t from = 0; from < minutes.size(); ++from) {
      if (from != to) least = std::min(least, minutes[from][to]);
    }
    total += least;
  }
  return total;
}

int rounds_for(int nodes) {
  const double more = static_cast<double>(nodes) / kStopsForAllRounds;
  const double rounds = kMostRounds / (more * more * more);
  return static_cast<int>(std::clamp<double>(rounds, kLeastRounds, kMostRounds));
}

}  // namespace

double route_lower_bound(const RouteProblem& problem, double known_minutes) {
  if (problem.minutes.size() < 2) return 0;
  const int nodes = static_cast<int>(problem.minutes.size()) + (problem.finish ? 0 : 1);
  if (nodes > kMostBoundedByTrees) {
    return std::min(known_minutes, shortest_ways_in(problem.minutes));
  }
  const int end = problem.finish.value_or(nodes - 1);
  const std::vector<Way> ways = possible_ways(problem);
  std::vector<Way> priced = ways;
  std::vector<double> price(nodes, 0);
  double best = 0;
  double step = kFirstStep;
  int idle = 0;
  for (int round = 0; round < rounds_for(nodes) && step > kLeastStep; ++round) {
    double bound = 0;
    for (size_t w = 0; w < ways.size(); ++w) priced[w].price = ways[w].price + price[ways[w].from];
    std::vector<int> out(nodes, 0);
    for (int w : shortest_tree(nodes, 0, priced)) {
      bound += priced[w].price;
      ++out[ways[w].from];
    }
    double slope = 0;
    for (int i = 0; i < nodes; ++i) {
      if (i == end) continue;
      bound -= price[i];
      slope += (out[i] - 1) * (out[i] - 1);
    }
    idle = bound > best ? 0 : idle + 1;
    best = std::max(best, bound);
    if (slope == 0 || best >= known_minutes) break;  // the tree is a route
    if (idle >= kPatience) {
      step /= 2;
      idle = 0;
    }
    for (int i = 0; i < nodes; ++i) {
      if (i != end) price[i] += step * (known_minutes - bound) / slope * (out[i] - 1);
    }
  }
  return std::min(best, known_minutes);
}

}  // namespace chipfall
