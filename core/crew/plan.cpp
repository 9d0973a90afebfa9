#include "core/crew/plan.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>

#include "core/crew/cost.h"
#include "core/crew/exact_crew.h"
#include "core/crew/refine.h"
#include "core/crew/solve.h"

namespace chipfall {
namespace {

constexpr double kSame_minutes = 1e-9;
/// Moves without gain before the search starts again from a shaken best order.
constexpr int kPatience = 150;
/// For the plain project, whose good timetables are good orders to begin with.
constexpr long kPlainEvaluations = 300;
/// Of the budget, and at most: the rest goes to moving tasks from lane to lane, which is five times
/// as quick.
constexpr double kShareOfOrders = 0.4;
constexpr int kMostOrders = 200;
constexpr int kShakes = 4;

/// Minutes from a task's start to the end of everything that must come after it.
std::vector<double> tails(const std::vector<CrewTask>& tasks) {
  std::vector<double> tail(tasks.size(), -1);
  std::vector<std::vector<Index>> successors(tasks.size());
  for (size_t i = 0; i < tasks.size(); ++i) {
    for (Index before : tasks[i].after) successors[before].push_back(static_cast<Index>(i));
  }
  const std::function<double(Index)> of = [&](Index i) {
    if (tail[i] >= 0) return tail[i];
    double longest = 0;
    for (Index next : successors[i]) longest = std::max(longest, of(next));
    return tail[i] = tasks[i].minutes + longest;
  };
  for (size_t i = 0; i < tasks.size(); ++i) of(static_cast<Index>(i));
  return tail;
}

/// An order that respects precedence, taking the free task of highest priority each time.
std::vector<Index> ordered_by(const std::vector<CrewTask>& tasks,
                              const std::vector<double>& priority) {
  std::vector<Index> order;
  std::vector<bool> done(tasks.size(), false);
  while (order.size() < tasks.size()) {
    Index best = kNone;
    for (size_t i = 0; i < tasks.size(); ++i) {
      const bool free = !done[i] && std::ranges::all_of(tasks[i].after,
                                                        [&](Index before) { return done[before]; });
      if (free && (best == kNone || priority[i] > priority[best])) best = static_cast<Index>(i);
    }
    if (best == kNone) break;  // a circle: nothing after it can be done
    done[best] = true;
    order.push_back(best);
  }
  return order;
}

std::vector<Index> as_listed(const std::vector<CrewTask>& tasks) {
  std::vector<double> priority;
  for (size_t i = 0; i < tasks.size(); ++i) priority.push_back(-static_cast<double>(i));
  return ordered_by(tasks, priority);
}

std::vector<std::vector<Index>> rule_orders(const Shop& shop, const std::vector<CrewTask>& tasks) {
  const std::vector<double> tail = tails(tasks);
  std::map<ToolKind, double> work;
  for (const CrewTask& task : tasks) {
    if (task.tool) work[*task.tool] += task.minutes;
  }
  std::map<ToolKind, double> count;
  for (const CleaningTool& tool : shop.tools) count[tool.kind] += 1;
  std::vector<double> longest, scarce, many;
  for (size_t i = 0; i < tasks.size(); ++i) {
    const CrewTask& task = tasks[i];
    longest.push_back(task.minutes);
    // What waits for a tool that everyone wants goes first.
    const double want = task.tool ? work[*task.tool] / std::max(1.0, count[*task.tool]) : 0;
    scarce.push_back(want + tail[i]);
    many.push_back(1000 * task.people + tail[i]);
  }
  std::vector<std::vector<Index>> orders{as_listed(tasks)};
  for (const auto& priority : {longest, tail, scarce, many}) {
    orders.push_back(ordered_by(tasks, priority));
  }
  return orders;
}

/// The order of the beginnings in a short timetable of the plain project.
std::vector<Index> order_without_walking(const CrewProblem& problem, std::uint64_t seed) {
  const Project project = without_walking(problem.shop, problem.crew, problem.tasks);
  const Solved solved = solve_shortly(project, kPlainEvaluations, seed);
  if (solved.timetable.start.size() != problem.tasks.size()) return {};
  std::vector<double> priority;
  for (double start : solved.timetable.start) priority.push_back(-start);
  return ordered_by(problem.tasks, priority);
}

bool is_proven(const CrewPlan& plan) {
  return plan.timetable.left_out.empty() &&
         plan.timetable.minutes <= plan.lower_bound_minutes + kSame_minutes;
}

struct Search {
  CrewTimetable best;
  std::vector<Index> best_order;
  int evaluations = 0;
};

Search improve(const CrewProblem& problem, double bound, const PlanLimits& limits) {
  const std::vector<CrewTask>& tasks = problem.tasks;
  Search search;
  const auto evaluate = [&](const std::vector<Index>& order) {
    ++search.evaluations;
    return schedule(problem, order);
  };
  std::vector<std::vector<Index>> orders = rule_orders(problem.shop, tasks);
  orders.push_back(order_without_walking(problem, limits.seed));
  for (const std::vector<Index>& order : orders) {
    if (order.size() != tasks.size()) continue;
    CrewTimetable timetable = evaluate(order);
    if (search.best_order.empty() || cost(timetable) < cost(search.best) - kSame_minutes) {
      search.best = std::move(timetable);
      search.best_order = order;
    }
  }
  if (search.best_order.size() < 2) return search;
  OrderMover mover(tasks, limits.seed);
  std::vector<Index> order = search.best_order;
  double current = cost(search.best);
  int idle = 0;
  const int orders_until =
      std::min(kMostOrders, static_cast<int>(limits.evaluations * kShareOfOrders));
  while (search.evaluations < orders_until) {
    std::vector<Index> next = order;
    mover.move(next);
    CrewTimetable timetable = evaluate(next);
    const double value = cost(timetable);
    if (value <= current + kSame_minutes) {
      idle = value < current - kSame_minutes ? 0 : idle + 1;
      current = value;
      order = std::move(next);
    } else {
      ++idle;
    }
    if (value < cost(search.best) - kSame_minutes) {
      search.best = std::move(timetable);
      search.best_order = order;
    }
    if (idle < kPatience) continue;
    if (search.best.minutes <= bound + kSame_minutes) break;  // cannot end sooner
    order = search.best_order;
    for (int i = 0; i < kShakes; ++i) mover.move(order);
    current = cost(evaluate(order));
    idle = 0;
  }
  if (search.best.minutes > bound + kSame_minutes && search.best.left_out.empty()) {
    search.evaluations +=
        refine(problem, bound, limits.evaluations - search.evaluations, limits.seed, search.best);
  }
  return search;
}

}  // namespace

CrewTimetable longest_first(const Shop& shop, const Crew& crew,
                            const std::vector<CrewTask>& tasks) {
  std::vector<double> minutes;
  for (const CrewTask& task : tasks) minutes.push_back(task.minutes);
  return schedule(CrewProblem(shop, crew, tasks), ordered_by(tasks, minutes));
}

CrewPlan plan_crew(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& tasks,
                   const PlanLimits& limits) {
  CrewPlan plan;
  plan.lower_bound_minutes = crew_lower_bound(shop, crew, tasks);
  const CrewProblem problem(shop, crew, tasks);
  if (crew.people.size() == 1) {
    plan.timetable = schedule(problem, as_listed(tasks));
    plan.evaluations = 1;
    plan.proven = is_proven(plan);
    return plan;
  }
  Search search = improve(problem, plan.lower_bound_minutes, limits);
  plan.evaluations = search.evaluations;
  plan.timetable = std::move(search.best);
  if (tasks.size() <= limits.exact_up_to && plan.timetable.left_out.empty()) {
    const ExactCrew exact = exact_crew(problem, plan.timetable.minutes, limits.nodes);
    if (exact.better) plan.timetable = schedule_as(problem, *exact.better);
    if (exact.exhausted) plan.lower_bound_minutes = plan.timetable.minutes;
  }
  plan.proven = is_proven(plan);
  return plan;
}

}  // namespace chipfall
