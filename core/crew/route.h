#pragma once

#include <optional>
#include <utility>
#include <vector>

/// The shortest walk past some stops.
namespace chipfall {

/// Minutes from each place to each other, square; place 0 is where the walk starts. Finite, never
/// negative; need not be symmetric.
using WalkMatrix = std::vector<std::vector<double>>;

struct RouteProblem {
  WalkMatrix minutes;         ///< places: the start, then the stops
  std::optional<int> finish;  ///< a stop that comes last; absent: wherever the walk ends
  /// (a, b): stop a before stop b, both by their place. No circles, and nothing after the finish.
  std::vector<std::pair<int, int>> before;
};

struct Route {
  std::vector<int> order;  ///< stops, each once
  double minutes = 0;
  double lower_bound_minutes = 0;  ///< no route is shorter
  bool proven = false;             ///< this one is as short as any
};

/// Stops up to which the answer is exact, the finish not counted: 4096 sets of them x 12 last
/// stops.
inline constexpr int kExactStops = 12;

/// More than any lock-up walks past; trees for them take too long on a phone.
inline constexpr int kMostBoundedByTrees = 250;

/// Exact up to kExactStops (dynamic programming over subsets: Held and Karp 1962); beyond that
/// nearest-next, then 2-opt, moving stops and runs of stops until nothing helps, shaken and
/// improved again up to a hundred times, with the bound below. Deterministic. Measured, stops
/// anywhere in the plane: 30 of them 0.03 % above the bound, 60 about 2 %.
Route shortest_route(const RouteProblem& problem);

/// Minutes of walking the stops in this order from the start.
double route_minutes(const WalkMatrix& minutes, const std::vector<int>& order);

/// To the nearest stop of those that may come next, again and again: where improvement begins.
std::vector<int> nearest_next(const RouteProblem& problem);

/// No route is shorter: every route is a tree that grows from the start, with one way out of each
/// stop but the last. The shortest such tree, with a price on ways out moved until it looks like a
/// route. Ways that the order of stops forbids are left out.
/// Beyond kMostBoundedByTrees stops only the shortest way into each counts.
/// Source: Held and Karp (1970, 1971) with arborescences in place of 1-trees, as for asymmetric
/// routes; Chu and Liu (1965), Edmonds (1967) for the tree.
double route_lower_bound(const RouteProblem& problem, double known_minutes);

}  // namespace chipfall
