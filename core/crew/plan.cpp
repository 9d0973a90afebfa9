#include "core/crew/plan.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <numeric>
#include <random>
#include <set>

#include "core/crew/bound.h"
#include "core/crew/exact_crew.h"
#include "core/duty/minutes.h"

namespace chipfall {
namespace {

/// Minutes of everybody's evening that a minute of walking, of unfairness or of the tasks' mean end
/// is worth: enough that nobody crosses the shop for a few seconds' gain, leaves what is for safety
/// to the end, or stands idle while there is something to do.
constexpr double kWalkWorth = 0.1;
constexpr double kUnfairWorth = 0.05;
constexpr double kWaitWorth = 0.02;
constexpr double kUrgentWorth = 0.1;
/// A task that nobody can do weighs more than any timetable.
constexpr double kLeftOutWorth = 1e4;
constexpr double kSame_minutes = 1e-9;
/// Moves without gain before the search starts again from a shaken best order.
constexpr int kPatience = 150;
constexpr int kShakes = 4;

double cost(const CrewTimetable& timetable) {
  return timetable.minutes + kWalkWorth * timetable.walked_minutes +
         kUnfairWorth * timetable.unfair_minutes + kWaitWorth * timetable.waited_minutes +
         kUrgentWorth * timetable.urgent_minutes +
         kLeftOutWorth * static_cast<double>(timetable.left_out.size());
}

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

std::vector<std::vector<Index>> rule_orders(const Shop& shop, const std::vector<CrewTask>& tasks) {
  const std::vector<double> tail = tails(tasks);
  std::map<ToolKind, double> work;
  for (const CrewTask& task : tasks) {
    if (task.tool) work[*task.tool] += task.minutes;
  }
  std::map<ToolKind, double> count;
  for (const CleaningTool& tool : shop.tools) count[tool.kind] += 1;
  std::vector<double> as_listed, longest, scarce, many;
  for (size_t i = 0; i < tasks.size(); ++i) {
    const CrewTask& task = tasks[i];
    as_listed.push_back(-static_cast<double>(i));
    longest.push_back(task.minutes);
    // What waits for a tool that everyone wants goes first.
    const double want = task.tool ? work[*task.tool] / std::max(1.0, count[*task.tool]) : 0;
    scarce.push_back(want + tail[i]);
    many.push_back(1000 * task.people + tail[i]);
  }
  std::vector<std::vector<Index>> orders;
  for (const auto& priority : {as_listed, longest, tail, scarce, many}) {
    orders.push_back(ordered_by(tasks, priority));
  }
  return orders;
}

/// Moves one task elsewhere between the last that it comes after and the first that comes after it.
class Mover {
 public:
  Mover(const std::vector<CrewTask>& tasks, std::uint64_t seed)
      : before_(tasks.size()), dice_(seed) {
    for (size_t i = 0; i < tasks.size(); ++i) {
      before_[i].insert(tasks[i].after.begin(), tasks[i].after.end());
    }
  }

  void move(std::vector<Index>& order) {
    const size_t n = order.size();
    const size_t from = dice_() % n;
    const Index task = order[from];
    size_t low = from;
    while (low > 0 && !before_[task].contains(order[low - 1])) --low;
    size_t high = from;
    while (high + 1 < n && !before_[order[high + 1]].contains(task)) ++high;
    if (low == high) return;
    const size_t to = low + dice_() % (high - low + 1);
    order.erase(order.begin() + static_cast<long>(from));
    order.insert(order.begin() + static_cast<long>(to), task);
  }

 private:
  std::vector<std::set<Index>> before_;
  std::mt19937_64 dice_;
};

/// The shortest way by which anybody can come to each task: from another task, a tool's hook or
/// where somebody stands.
std::vector<double> least_walks(const Crew& crew, const std::vector<CrewTask>& tasks) {
  std::vector<double> least;
  for (size_t i = 0; i < tasks.size(); ++i) {
    double nearest = HUGE_VAL;
    const auto from = [&](Point p) { nearest = std::min(nearest, distance(p, tasks[i].at)); };
    for (size_t j = 0; j < tasks.size(); ++j) {
      if (j != i) from(tasks[j].at);
    }
    for (const Person& person : crew.people) from(person.at);
    for (Point p : crew.tools_at) from(p);
    least.push_back(walk_minutes(nearest));
  }
  return least;
}

int usable_tools(const Shop& shop, const Crew& crew, ToolKind kind) {
  int count = 0;
  for (size_t t = 0; t < shop.tools.size(); ++t) {
    count += shop.tools[t].kind == kind && crew.usable[t];
  }
  return count;
}

/// The plain project: people, kinds of tools and zones as resources. Tasks whose tool nobody has
/// ask for none, which only lowers the bound.
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

struct Search {
  CrewTimetable best;
  std::vector<Index> best_order;
  int evaluations = 0;
};

Search improve(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& tasks, double bound,
               const PlanLimits& limits) {
  Search search;
  const auto evaluate = [&](const std::vector<Index>& order) {
    ++search.evaluations;
    return schedule(shop, crew, tasks, order);
  };
  for (const std::vector<Index>& order : rule_orders(shop, tasks)) {
    CrewTimetable timetable = evaluate(order);
    if (search.best_order.empty() || cost(timetable) < cost(search.best) - kSame_minutes) {
      search.best = std::move(timetable);
      search.best_order = order;
    }
  }
  if (search.best_order.size() < 2) return search;
  Mover mover(tasks, limits.seed);
  std::vector<Index> order = search.best_order;
  double current = cost(search.best);
  int idle = 0;
  while (search.evaluations < limits.evaluations) {
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
  return search;
}

}  // namespace

double crew_lower_bound(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& all) {
  if (all.empty()) return 0;
  std::vector<CrewTask> tasks = all;
  std::set<Index> under_way;
  for (const UnderWay& now : crew.under_way) {
    under_way.insert(now.duty);
    tasks[now.duty].minutes = now.left_minutes;
  }
  const std::vector<double> walks = least_walks(crew, tasks);
  double bound = 0;
  for (double tail : tails(tasks)) bound = std::max(bound, tail);
  double work = 0;
  std::map<ToolKind, double> tool_work;
  for (size_t i = 0; i < tasks.size(); ++i) {
    // Whoever is at it already need not walk there.
    const bool there = under_way.contains(static_cast<Index>(i));
    const double minutes = tasks[i].minutes + (there ? 0 : walks[i]);
    work += tasks[i].people * minutes;
    if (tasks[i].tool) tool_work[*tasks[i].tool] += minutes;
  }
  bound = std::max(bound, work / static_cast<double>(crew.people.size()));
  for (const auto& [kind, minutes] : tool_work) {
    const int count = usable_tools(shop, crew, kind);
    if (count > 0) bound = std::max(bound, minutes / count);
  }
  return std::max(bound, simple_bound_minutes(without_walking(shop, crew, tasks)));
}

CrewPlan plan_crew(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& tasks,
                   const PlanLimits& limits) {
  CrewPlan plan;
  plan.lower_bound_minutes = crew_lower_bound(shop, crew, tasks);
  Search search = improve(shop, crew, tasks, plan.lower_bound_minutes, limits);
  plan.evaluations = search.evaluations;
  plan.timetable = std::move(search.best);
  if (tasks.size() <= limits.exact_up_to && plan.timetable.left_out.empty()) {
    const ExactCrew exact = exact_crew(shop, crew, tasks, plan.timetable.minutes, limits.nodes);
    if (exact.better) plan.timetable = schedule_as(shop, crew, tasks, *exact.better);
    if (exact.exhausted) plan.lower_bound_minutes = plan.timetable.minutes;
  }
  plan.proven = plan.timetable.left_out.empty() &&
                plan.timetable.minutes <= plan.lower_bound_minutes + kSame_minutes;
  return plan;
}

}  // namespace chipfall
