#pragma once

#include <cstdint>
#include <random>

#include "core/crew/timetable.h"

namespace chipfall {

/// Moves one task of an order elsewhere, between the last that it comes after and the first that
/// comes after it.
class OrderMover {
 public:
  OrderMover(const std::vector<CrewTask>& tasks, std::uint64_t seed);

  void move(std::vector<Index>& order);

 private:
  /// A number from 0 up to below `n`; the same sequence on every machine.
  size_t below(size_t n) { return dice_() % n; }
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

/// Betters a timetable by moving tasks past others, next to others into their lane, and into each
/// other's places, and by swapping the rest of two lanes. A change that costs no more is kept, and
/// for the better part of the search so is one that costs a little more. Source for the latter:
/// Dueck and Scheuer (1990), threshold accepting; leeway and moves are our own choice. Stops after
/// so many evaluations, which it returns, or at the bound.
int refine(const CrewProblem& problem, double bound, int evaluations, std::uint64_t seed,
           CrewTimetable& best);

}  // namespace chipfall
