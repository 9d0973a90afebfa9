#pragma once

#include <cstddef>
#include <vector>

namespace chipfall {

/// The cheapest way to reach every node from a root, each along exactly one arc into it.
///
/// Costs are dense: `cost[from * nodes + to]`, any finite number, infinite where there is no arc.
/// Node 0 is the root. O(nodes^2). Source: Edmonds (1967), Tarjan (1977) for dense graphs,
/// Camerini, Fratta, Maffioli (1979) for taking the contracted circles apart again.
class Arborescence {
 public:
  explicit Arborescence(std::size_t nodes);

  /// By node, the one before it; the root's own is 0. Empty where some node cannot be reached.
  const std::vector<int>& cheapest(const std::vector<double>& cost);

 private:
  double take_least_arc(std::size_t group);
  std::size_t contract(std::size_t first_on_path);
  void take_apart();

  std::size_t nodes_;
  std::size_t groups_ = 0;          ///< nodes first, then circles contracted into one
  std::vector<double> into_;        ///< by group and node: least cost of an arc from there into it
  std::vector<int> head_;           ///< parallel: the node at which that arc arrives
  std::vector<int> group_of_;       ///< by node: the outermost group around it
  std::vector<int> around_;         ///< by group: the one it was contracted into, or -1
  std::vector<int> tail_, enters_;  ///< by group: the arc taken into it
  std::vector<double> paid_;        ///< by group: that arc's cost
  std::vector<std::size_t> path_;   ///< groups, each the head of an arc from the next
  std::vector<int> before_;
};

}  // namespace chipfall
