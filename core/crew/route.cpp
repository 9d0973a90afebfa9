#include "core/crew/route.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <cstdint>
#include <random>

namespace chipfall {
namespace {

constexpr double kSame_minutes = 1e-9;
/// Neighbouring runs that change places are no longer than this: beyond it the sweep costs more
/// than it finds.
constexpr int kLongestRun = 30;
/// Times that the best order is shaken and improved again, fewer with more stops (as their cube),
/// and random changes each time.
constexpr int kMostShakes = 100;
constexpr int kStopsForAllShakes = 40;
constexpr int kChangesAShake = 3;

using Table = std::vector<std::vector<bool>>;

int places(const RouteProblem& problem) { return static_cast<int>(problem.minutes.size()); }

/// first[a][b]: a comes before b, said or following from what is said; the start before all, all
/// before the finish.
Table first_table(const RouteProblem& problem) {
  const int n = places(problem);
  Table first(n, std::vector<bool>(n, false));
  for (const auto& [a, b] : problem.before) first[a][b] = true;
  for (int i = 1; i < n; ++i) {
    first[0][i] = true;
    if (problem.finish && i != *problem.finish) first[i][*problem.finish] = true;
  }
  for (int k = 0; k < n; ++k) {
    for (int i = 0; i < n; ++i) {
      if (!first[i][k]) continue;
      for (int j = 0; j < n; ++j) first[i][j] = first[i][j] || first[k][j];
    }
  }
  return first;
}

/// The stops but the finish, which is known to come last.
std::vector<int> free_stops(const RouteProblem& problem) {
  std::vector<int> stops;
  for (int i = 1; i < places(problem); ++i) {
    if (i != problem.finish) stops.push_back(i);
  }
  return stops;
}

// -------------------------------------------------------------------------------------- exact

/// Shortest ways through each set of stops to each last one, and back from the shortest of all.
std::vector<int> exact_order(const RouteProblem& problem, const Table& first) {
  const std::vector<int> stops = free_stops(problem);
  const int n = static_cast<int>(stops.size());
  std::vector<int> order;
  if (n > 0) {
    std::vector<std::uint32_t> needs(n, 0);
    for (int i = 0; i < n; ++i) {
      for (int j = 0; j < n; ++j) {
        if (first[stops[j]][stops[i]]) needs[i] |= 1u << j;
      }
    }
    const std::uint32_t all = (1u << n) - 1;
    const auto at = [&](std::uint32_t set, int last) { return set * n + last; };
    std::vector<double> best((size_t{all} + 1) * n, HUGE_VAL);
    std::vector<int> came_from(best.size(), -1);
    for (int i = 0; i < n; ++i) {
      if (needs[i] == 0) best[at(1u << i, i)] = problem.minutes[0][stops[i]];
    }
    for (std::uint32_t set = 1; set <= all; ++set) {
      for (int last = 0; last < n; ++last) {
        const double so_far = best[at(set, last)];
        if (so_far == HUGE_VAL) continue;
        for (int next = 0; next < n; ++next) {
          if ((set >> next & 1) != 0 || (needs[next] & ~set) != 0) continue;
          const std::uint32_t with = set | 1u << next;
          const double minutes = so_far + problem.minutes[stops[last]][stops[next]];
          if (minutes < best[at(with, next)]) {
            best[at(with, next)] = minutes;
            came_from[at(with, next)] = last;
          }
        }
      }
    }
    int last = 0;
    double least = HUGE_VAL;
    for (int i = 0; i < n; ++i) {
      const double home = problem.finish ? problem.minutes[stops[i]][*problem.finish] : 0;
      if (best[at(all, i)] + home < least) {
        least = best[at(all, i)] + home;
        last = i;
      }
    }
    assert(least < HUGE_VAL);  // the precondition: no circles
    for (std::uint32_t set = all; last >= 0;) {
      order.push_back(stops[last]);
      const int before = came_from[at(set, last)];
      set &= ~(1u << last);
      last = before;
    }
    std::ranges::reverse(order);
  }
  if (problem.finish) order.push_back(*problem.finish);
  return order;
}

// ------------------------------------------------------------------------------- improvement

/// An order with the start before it, being made shorter.
class Improvement {
 public:
  Improvement(const WalkMatrix& minutes, const Table& first, std::vector<int> order)
      : minutes_(minutes), first_(first), order_(std::move(order)) {
    order_.insert(order_.begin(), 0);
  }

  std::vector<int> run() {
    settle();
    std::mt19937 random(1);
    std::vector<int> best = order_;
    double least = minutes();
    for (int i = 0; i < shakes(); ++i) {
      for (int c = 0; c < kChangesAShake; ++c) change_at_random(random);
      settle();
      const double now = minutes();
      if (now < least - kSame_minutes) {
        least = now;
        best = order_;
      } else {
        order_ = best;
      }
    }
    return {best.begin() + 1, best.end()};
  }

 private:
  int shakes() const {
    const double more = std::max(1.0, static_cast<double>(size()) / kStopsForAllShakes);
    return static_cast<int>(kMostShakes / (more * more * more));
  }

  void settle() {
    while (swap_runs() || reverse_runs()) {
    }
  }

  double minutes() const {
    double total = 0;
    for (int i = 1; i < size(); ++i) total += way(i - 1, i);
    return total;
  }

  bool may_swap(int i, int j, int k) const {
    for (int a = i; a < j; ++a) {
      for (int b = j; b < k; ++b) {
        if (first_[order_[a]][order_[b]]) return false;
      }
    }
    return true;
  }

  void change_at_random(std::mt19937& random) {
    int cut[3];
    for (int& c : cut) c = 1 + static_cast<int>(random() % static_cast<unsigned>(size()));
    std::ranges::sort(cut);
    if (!may_swap(cut[0], cut[1], cut[2])) return;
    std::rotate(order_.begin() + cut[0], order_.begin() + cut[1], order_.begin() + cut[2]);
  }

  int size() const { return static_cast<int>(order_.size()); }
  /// From the stop in this position to the one in that; the walk ends behind the last.
  double way(int from, int to) const {
    return to < size() ? minutes_[order_[from]][order_[to]] : 0;
  }

  /// Two neighbouring runs [i, j) and [j, k) change places: moves single stops and runs of them
  /// without turning them round. One sweep; false when nothing helped.
  bool swap_runs() {
    bool any = false;
    for (int i = 1; i < size(); ++i) any |= swap_runs_from(i);
    return any;
  }

  bool swap_runs_from(int i) {
    for (int j = i + 1; j < size() && j - i <= kLongestRun; ++j) {
      for (int k = j + 1; k <= size() && k - j <= kLongestRun; ++k) {
        bool may = true;
        for (int a = i; a < j && may; ++a) may = !first_[order_[a]][order_[k - 1]];
        if (!may) break;  // what must follow the first run cannot come before it
        const double now = way(i - 1, i) + way(j - 1, j) + way(k - 1, k);
        const double then = way(i - 1, j) + way(k - 1, i) + way(j - 1, k);
        if (then >= now - kSame_minutes) continue;
        std::rotate(order_.begin() + i, order_.begin() + j, order_.begin() + k);
        return true;
      }
    }
    return false;
  }

  /// 2-opt: runs [i, j] the other way round. One sweep; false when nothing helped.
  bool reverse_runs() {
    bool any = false;
    for (int i = 1; i < size(); ++i) any |= reverse_run_from(i);
    return any;
  }

  bool reverse_run_from(int i) {
    double forth = 0;
    double back = 0;
    for (int j = i + 1; j < size(); ++j) {
      for (int a = i; a < j; ++a) {
        if (first_[order_[a]][order_[j]]) return false;
      }
      forth += way(j - 1, j);
      back += way(j, j - 1);
      const double now = way(i - 1, i) + forth + way(j, j + 1);
      const double then = way(i - 1, j) + back + way(i, j + 1);
      if (then >= now - kSame_minutes) continue;
      std::reverse(order_.begin() + i, order_.begin() + j + 1);
      return true;
    }
    return false;
  }

  const WalkMatrix& minutes_;
  const Table& first_;
  std::vector<int> order_;
};

}  // namespace

double route_minutes(const WalkMatrix& minutes, const std::vector<int>& order) {
  double total = 0;
  int here = 0;
  for (int stop : order) {
    total += minutes[here][stop];
    here = stop;
  }
  return total;
}

std::vector<int> nearest_next(const RouteProblem& problem) {
  const Table first = first_table(problem);
  std::vector<int> left;
  for (int i = 1; i < places(problem); ++i) left.push_back(i);
  std::vector<int> order;
  int here = 0;
  while (!left.empty()) {
    int next = -1;
    for (int stop : left) {
      const bool waits = std::ranges::any_of(left, [&](int other) { return first[other][stop]; });
      if (waits) continue;
      if (next < 0 || problem.minutes[here][stop] < problem.minutes[here][next]) next = stop;
    }
    assert(next >= 0);  // the precondition: no circles
    order.push_back(next);
    std::erase(left, next);
    here = next;
  }
  return order;
}

Route shortest_route(const RouteProblem& problem) {
  Route route;
  if (places(problem) < 2) {
    route.proven = true;
    return route;
  }
  const Table first = first_table(problem);
  route.proven = std::ssize(free_stops(problem)) <= kExactStops;
  route.order = route.proven ? exact_order(problem, first)
                             : Improvement(problem.minutes, first, nearest_next(problem)).run();
  route.minutes = route_minutes(problem.minutes, route.order);
  route.lower_bound_minutes =
      route.proven ? route.minutes : route_lower_bound(problem, route.minutes);
  route.proven |= route.lower_bound_minutes >= route.minutes - kSame_minutes;
  return route;
}

}  // namespace chipfall
