#pragma once

#include <optional>
#include <utility>
#include <vector>

/// The shortest walk past some stops.
namespace chipfall {

/// Minutes from each place to each other, square; place 0 is where the walk starts. Never negative;
/// need not be symmetric.
using WalkMatrix = std::vector<std::vector<double>>;

struct RouteProblem {
  WalkMatrix minutes;         ///< places: the start, then the stops
  std::optional<int> finish;  ///< a stop that comes last; absent: wherever the walk ends
  /// (a, b): stop a before stop b, both by their place. No circles.
  std::vector<std::pair<int, int>> before;
};

struct Route {
  std::vector<int> order;  ///< stops, each once
  double minutes = 0;
  double lower_bound_minutes = 0;  ///< no route is shorter
  bool proven = false;             ///< this one is as short as any
};

/// Stops up to which the answer is exact (dynamic programming over subsets).
inline constexpr int kExactStops = 12;

/// Exact up to kExactStops; beyond that nearest-next, then 2-opt and moving stops until nothing
/// helps, with a bound. Deterministic.
Route shortest_route(const RouteProblem& problem);

}  // namespace chipfall
