#include "core/crew/refine.h"

#include <algorithm>

namespace chipfall {
namespace {

constexpr double kSame_minutes = 1e-9;
/// Minutes of everybody's evening that a minute of walking, of unfairness or of the tasks' mean end
/// is worth: enough that nobody crosses the shop for a few seconds' gain, leaves what is for safety
/// to the end, or stands idle while there is something to do.
constexpr double kWalkWorth = 0.1;
constexpr double kUnfairWorth = 0.05;
constexpr double kWaitWorth = 0.02;
constexpr double kUrgentWorth = 0.1;
/// A task that nobody can do weighs more than any timetable.
constexpr double kLeftOutWorth = 1e4;

/// One change at random: another person, an exchange of two, another place in the order, another
/// tool of the kind, or person and place at once.
void change(const CrewProblem& problem, OrderMover& mover, Assignment& assignment) {
  const size_t kind = mover.below(4);
  if (kind != 1) mover.move(assignment.order);
  if (kind == 0) return;
  const Index task = assignment.order[mover.below(assignment.order.size())];
  std::vector<Index>& people = assignment.people[task];
  if (people.size() != 1) return;
  if (kind == 3) {
    const Index other = assignment.order[mover.below(assignment.order.size())];
    if (assignment.people[other].size() == 1) std::swap(people, assignment.people[other]);
    return;
  }
  people[0] = static_cast<Index>(mover.below(problem.crew.people.size()));
  const std::optional<ToolKind> wanted = problem.tasks[task].tool;
  if (!wanted) return;
  // With the tool that this person has at hand around then, or any.
  const Index tool = static_cast<Index>(mover.below(problem.shop.tools.size()));
  if (problem.crew.usable[tool] && problem.shop.tools[tool].kind == *wanted) {
    assignment.tool[task] = tool;
  }
}

bool kept(const CrewProblem& problem, const CrewTimetable& timetable) {
  for (size_t p = 0; p < timetable.lanes.size(); ++p) {
    const Lane& lane = timetable.lanes[p];
    if (lane.steps.empty()) continue;
    // Not a number or never: a tool that is freed only later, or somebody who has left.
    if (!(lane.steps.back().end <= problem.crew.people[p].until_minute + kSame_minutes)) {
      return false;
    }
    if (!(lane.home_minute < 1e9)) return false;
  }
  return true;
}

}  // namespace

double cost(const CrewTimetable& timetable) {
  return timetable.minutes + kWalkWorth * timetable.walked_minutes +
         kUnfairWorth * timetable.unfair_minutes + kWaitWorth * timetable.waited_minutes +
         kUrgentWorth * timetable.urgent_minutes +
         kLeftOutWorth * static_cast<double>(timetable.left_out.size());
}

OrderMover::OrderMover(const std::vector<CrewTask>& tasks, std::uint64_t seed)
    : before_(tasks.size()), dice_(seed) {
  for (size_t i = 0; i < tasks.size(); ++i) {
    before_[i].insert(tasks[i].after.begin(), tasks[i].after.end());
  }
}

void OrderMover::move(std::vector<Index>& order) {
  const size_t n = order.size();
  const size_t from = below(n);
  const Index task = order[from];
  size_t low = from;
  while (low > 0 && !before_[task].contains(order[low - 1])) --low;
  size_t high = from;
  while (high + 1 < n && !before_[order[high + 1]].contains(task)) ++high;
  if (low == high) return;
  const size_t to = low + below(high - low + 1);
  order.erase(order.begin() + static_cast<long>(from));
  order.insert(order.begin() + static_cast<long>(to), task);
}

int refine(const CrewProblem& problem, double bound, int evaluations, std::uint64_t seed,
           CrewTimetable& best) {
  // Those under way stay with their people, in front.
  const size_t fixed = problem.crew.under_way.size();
  if (best.assignment.order.size() < fixed + 2) return 0;
  OrderMover mover(problem.tasks, seed);
  Assignment current = best.assignment;
  double value = cost(best);
  for (int used = 0; used < evaluations; ++used) {
    if (best.minutes <= bound + kSame_minutes) return used;
    Assignment next = current;
    change(problem, mover, next);
    CrewTimetable timetable = schedule_as(problem, next);
    if (!kept(problem, timetable)) continue;
    const double after = cost(timetable);
    if (after > value + kSame_minutes) continue;
    value = after;
    current = std::move(next);
    if (after < cost(best) - kSame_minutes) best = std::move(timetable);
  }
  return std::max(0, evaluations);
}

}  // namespace chipfall
