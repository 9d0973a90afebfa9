#pragma once

#include <cstdint>
#include <random>
#include <set>

#include "core/crew/timetable.h"

namespace chipfall {

/// What a plan is judged by: minutes of everybody's evening, with a little for walking, unfairness,
/// and what is urgent or could have been done sooner.
double cost(const CrewTimetable& timetable);

/// Moves one task of an order elsewhere, between the last that it comes after and the first that
/// comes after it.
class OrderMover {
 public:
  OrderMover(const std::vector<CrewTask>& tasks, std::uint64_t seed);

  void move(std::vector<Index>& order);
  /// A number from 0 up to below `n`; the same sequence on every machine.
  size_t below(size_t n) { return dice_() % n; }

 private:
  std::vector<std::set<Index>> before_;
  std::mt19937_64 dice_;
};

/// Betters a timetable by moving tasks from lane to lane and within them, keeping every change that
/// costs no more. Stops after so many evaluations, which it returns, or at the bound.
int refine(const CrewProblem& problem, double bound, int evaluations, std::uint64_t seed,
           CrewTimetable& best);

}  // namespace chipfall
