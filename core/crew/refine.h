#pragma once

#include <cstdint>
#include <random>

#include "core/crew/timetable.h"

namespace chipfall {

/// What a plan is judged by: minutes of everybody's evening, with a little for walking, unfairness,
/// and what is urgent or could have been done sooner.
double cost_of(const CrewSums& sums);
/// The same, with what is left out outweighing everything.
double cost(const CrewTimetable& timetable);

/// Moves one task of an order elsewhere, between the last that it comes after and the first that
/// comes after it.
class OrderMover {
 public:
  OrderMover(const std::vector<CrewTask>& tasks, std::uint64_t seed);

  void move(std::vector<Index>& order);
  void move(std::vector<Index>& order, Index task);
  /// Right before or behind another, or as near as it may stand.
  void put_beside(std::vector<Index>& order, Index task, Index other);
  /// A number from 0 up to below `n`; the same sequence on every machine.
  size_t below(size_t n) { return dice_() % n; }
  double share() { return static_cast<double>(dice_() >> 11) * 0x1p-53; }

 private:
  /// Where a task stands and between which places it may.
  struct Span {
    size_t at, low, high;
  };
  Span span_of(const std::vector<Index>& order, Index task) const;
  static void put(std::vector<Index>& order, size_t from, size_t to);
  bool comes_after(Index task, Index other) const {
    return before_[static_cast<size_t>(task) * count_ + static_cast<size_t>(other)] != 0;
  }

  size_t count_;
  std::vector<char> before_;  ///< by pairs of tasks
  std::mt19937_64 dice_;
};

/// Betters a timetable by moving tasks from lane to lane and within them, swapping the rest of two
/// lanes, and putting tasks behind others near by. A change that costs no more is kept, and for the
/// better part of the search so is one that costs a little more. Source for the latter: Dueck and
/// Scheuer (1990), threshold accepting; leeway and moves are our own choice. Stops after so many
/// evaluations, which it returns, or at the bound.
int refine(const CrewProblem& problem, double bound, int evaluations, std::uint64_t seed,
           CrewTimetable& best);

}  // namespace chipfall
