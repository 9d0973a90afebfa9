#include "core/crew/plan.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>

#include "core/crew/bound.h"
#include "core/crew/exact_crew.h"
#include "core/crew/refine.h"
#include "core/crew/solve.h"
#include "core/duty/minutes.h"

namespace chipfall {
namespace {

constexpr double kSame_minutes = 1e-9;
/// Moves without gain before the search starts again from a shaken best order.
constexpr int kPatience = 150;
/// For the plain project, whose good timetables are good orders to begin with.
constexpr long kPlainEvaluations = 300;
constexpr long kPlainNodes = 2000;
/// Of the budget: the rest goes to moving tasks from lane to lane.
constexpr double kShareOfOrders = 0.4;
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

/// Minutes that must be walked to come to all of these tasks, whoever walks: every task is entered
/// from one of the places named, or from another of the tasks, so the ways taken join them all to
/// those places, and no way of joining them is shorter than the spanning tree.
double least_walking_minutes(const CrewProblem& problem, const std::vector<Index>& tasks,
                             const std::vector<int>& from) {
  std::vector<double> nearest(tasks.size(), HUGE_VAL);
  for (size_t i = 0; i < tasks.size(); ++i) {
    for (int place : from) {
      nearest[i] = std::min(nearest[i], problem.walk_minutes(place, problem.task_place(tasks[i])));
    }
  }
  std::vector<bool> joined(tasks.size(), false);
  double total = 0;
  for (size_t step = 0; step < tasks.size(); ++step) {
    size_t next = tasks.size();
    for (size_t i = 0; i < tasks.size(); ++i) {
      if (!joined[i] && (next == tasks.size() || nearest[i] < nearest[next])) next = i;
    }
    joined[next] = true;
    total += nearest[next];
    for (size_t i = 0; i < tasks.size(); ++i) {
      nearest[i] = std::min(nearest[i], problem.walk_minutes(problem.task_place(tasks[next]),
                                                             problem.task_place(tasks[i])));
    }
  }
  return total;
}

/// Work with one kind of tool, or by hand.
struct Load {
  std::vector<Index> tasks;  ///< that somebody must still come to
  double minutes = 0;
  std::vector<int> from;  ///< places from which they may be come to, beside each other
};

/// Fetching one tool of a kind that is used at all, and taking it home from the nearest of its
/// tasks; nothing where one may be in hand or home already.
double handling_minutes(const CrewProblem& problem, const Load& load, ToolKind kind) {
  for (const Person& person : problem.crew.people) {
    if (person.tool != kNone) return 0;
  }
  if (load.tasks.empty() || !problem.crew.under_way.empty()) return 0;
  double home = HUGE_VAL;
  for (size_t t = 0; t < problem.shop.tools.size(); ++t) {
    if (problem.shop.tools[t].kind != kind || !problem.crew.usable[t]) continue;
    for (Index task : load.tasks) {
      home = std::min(home, problem.walk_minutes(problem.task_place(task),
                                                 problem.hook_place(static_cast<Index>(t))));
    }
  }
  return home == HUGE_VAL ? 0 : kFetch_minutes + home;
}

int usable_tools(const Shop& shop, const Crew& crew, ToolKind kind) {
  int count = 0;
  for (size_t t = 0; t < shop.tools.size(); ++t) {
    count += shop.tools[t].kind == kind && crew.usable[t];
  }
  return count;
}

/// The order of the beginnings in a short timetable of the plain project.
std::vector<Index> order_without_walking(const CrewProblem& problem, std::uint64_t seed) {
  const Project project = without_walking(problem.shop, problem.crew, problem.tasks);
  SolveLimits limits;
  limits.evaluations = kPlainEvaluations;
  limits.nodes = kPlainNodes;
  limits.seed = seed;
  const Solved solved = solve(project, limits);
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
  const int orders_until = static_cast<int>(limits.evaluations * kShareOfOrders);
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

Project without_walking(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& tasks) {
  Project project;
  project.capacity.push_back(static_cast<int>(crew.people.size()));
  for (int kind = 0; kind < kToolKinds; ++kind) {
    project.capacity.push_back(usable_tools(shop, crew, static_cast<ToolKind>(kind)));
  }
  std::map<Index, size_t> zones;
  for (const CrewTask& task : tasks) {
    if (task.zone == kNone || zones.contains(task.zone)) continue;
    zones[task.zone] = project.capacity.size();
    project.capacity.push_back(1);
  }
  for (const CrewTask& task : tasks) {
    Task plain{task.minutes, std::vector<int>(project.capacity.size(), 0), {}};
    plain.demand[0] = task.people;
    const size_t tool = task.tool ? 1 + static_cast<size_t>(*task.tool) : 0;
    if (task.tool && project.capacity[tool] > 0) plain.demand[tool] = 1;
    if (task.zone != kNone) plain.demand[zones[task.zone]] = 1;
    plain.after.assign(task.after.begin(), task.after.end());
    project.tasks.push_back(std::move(plain));
  }
  return project;
}

double crew_lower_bound(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& all) {
  if (all.empty()) return 0;
  std::vector<CrewTask> tasks = all;
  for (const UnderWay& now : crew.under_way) tasks[now.duty].minutes = now.left_minutes;
  const CrewProblem problem(shop, crew, tasks);
  Load by_hand;
  std::map<ToolKind, Load> tools;
  for (size_t t = 0; t < shop.tools.size(); ++t) {
    if (!crew.usable[t]) continue;
    tools[shop.tools[t].kind].from.push_back(problem.tool_place(static_cast<Index>(t)));
    by_hand.from.push_back(problem.tool_place(static_cast<Index>(t)));
  }
  for (size_t p = 0; p < crew.people.size(); ++p) {
    by_hand.from.push_back(problem.person_place(static_cast<Index>(p)));
  }
  double person_minutes = 0;
  for (size_t i = 0; i < tasks.size(); ++i) {
    const Index task = static_cast<Index>(i);
    person_minutes += tasks[i].people * tasks[i].minutes;
    const bool has_tool = tasks[i].tool && usable_tools(shop, crew, *tasks[i].tool) > 0;
    Load& load = has_tool ? tools[*tasks[i].tool] : by_hand;
    load.minutes += tasks[i].minutes;
    // Whoever is at it already need not walk there.
    const bool there = std::ranges::count(crew.under_way, task, &UnderWay::duty) > 0;
    (there ? load.from : load.tasks).push_back(task);
    if (has_tool) by_hand.from.push_back(problem.task_place(task));
  }
  double bound = simple_bound_minutes(without_walking(shop, crew, tasks));
  for (double tail : tails(tasks)) bound = std::max(bound, tail);
  // A tool comes to a task from where one of its kind stood before, in somebody's hand; other tasks
  // are come to from anywhere. No step of these is counted twice.
  double walking = least_walking_minutes(problem, by_hand.tasks, by_hand.from);
  for (const auto& [kind, load] : tools) {
    if (load.tasks.empty()) continue;
    const double carried = least_walking_minutes(problem, load.tasks, load.from);
    walking += carried + handling_minutes(problem, load, kind);
    bound = std::max(bound, (load.minutes + carried) / usable_tools(shop, crew, kind));
  }
  return std::max(bound, (person_minutes + walking) / static_cast<double>(crew.people.size()));
}

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
