#include "core/crew/solve.h"

#include <algorithm>
#include <vector>

#include "core/crew/bound.h"
#include "core/crew/exact.h"
#include "core/crew/improve.h"
#include "core/crew/parallel.h"
#include "core/crew/priority.h"
#include "core/crew/serial.h"

namespace chipfall {
namespace {

/// Met but for rounding.
bool meets(double minutes, double lower_bound) {
  return minutes <= lower_bound * (1 + kSameMinutes);
}

/// At least one, whatever the budget.
std::vector<Timetable> by_rules(const Project& project, long evaluations) {
  std::vector<Timetable> made;
  for (const Rule rule : kAllRules) {
    const std::vector<int> list = list_by(project, rule);
    made.push_back(Serial(project).place(list));
    if (static_cast<long>(made.size()) >= evaluations) break;
    made.push_back(parallel_forward(project, list));
    if (static_cast<long>(made.size()) >= evaluations) break;
  }
  return made;
}

}  // namespace

Solved solve_shortly(const Project& project, long evaluations, unsigned long long seed) {
  Solved solved;
  if (!mistake_of(project).empty()) return solved;
  const std::vector<Timetable> first = by_rules(project, evaluations);
  solved.evaluations = static_cast<long>(first.size());
  solved.timetable = *std::ranges::min_element(first, {}, &Timetable::minutes);
  solved.lower_bound = simple_bound_minutes(project);

  const double enough = solved.lower_bound * (1 + kSameMinutes);
  const Improved improved =
      improve(project, first, {evaluations - solved.evaluations, enough, seed});
  solved.evaluations += improved.evaluations;
  solved.timetable = improved.timetable;
  solved.proven = meets(solved.timetable.minutes, solved.lower_bound);
  if (solved.proven) solved.lower_bound = solved.timetable.minutes;
  return solved;
}

Solved solve(const Project& project, const SolveLimits& limits) {
  Solved solved = solve_shortly(project, limits.evaluations, limits.seed);
  // A mistake in it, or nothing left to prove.
  if (solved.evaluations == 0 || solved.proven) return solved;
  solved.lower_bound = lower_bound_minutes(project, solved.timetable.minutes);
  solved.proven = meets(solved.timetable.minutes, solved.lower_bound);
  if (!solved.proven) {
    const Exact exact =
        search_exactly(project, solved.timetable, {solved.lower_bound, limits.nodes});
    solved.timetable = exact.timetable;
    solved.nodes = exact.nodes;
    solved.proven = exact.exhausted;
  }
  if (solved.proven) solved.lower_bound = solved.timetable.minutes;
  return solved;
}

}  // namespace chipfall
