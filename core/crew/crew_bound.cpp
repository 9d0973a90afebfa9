#include "core/crew/crew_bound.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "core/crew/bound.h"
#include "core/crew/least_walking.h"
#include "core/crew/timetable.h"

namespace chipfall {
namespace {

/// Times that the least walking is worked out anew for fewer people or tools.
constexpr int kNeedsTried = 4;
constexpr double kRounding = 1e-9;

struct Load {
  double minutes = 0;   ///< with tools of one kind
  double carrying = 0;  ///< at least, from place to place
  int tools = 0;        ///< usable
  int tasks = 0;        ///< not yet under way
};

struct Work {
  std::vector<double> from;     ///< minute at which each person begins
  std::vector<char> under_way;  ///< by person
  double person_minutes = 0;
  std::array<Load, kToolKinds> loads;
};

int usable_tools(const Shop& shop, const Crew& crew, ToolKind kind) {
  int count = 0;
  for (size_t t = 0; t < shop.tools.size(); ++t) {
    count += shop.tools[t].kind == kind && crew.usable[t];
  }
  return count;
}

/// Tools are carried from task to task; no way of joining these to the places where such tools
/// stand is shorter than the spanning tree.
double carrying_minutes(const CrewProblem& problem, const std::vector<Index>& tasks,
                        const std::vector<int>& from) {
  std::vector<double> nearest(tasks.size(), HUGE_VAL);
  for (size_t i = 0; i < tasks.size(); ++i) {
    for (int place : from) {
      nearest[i] = std::min(nearest[i], problem.walk_minutes(place, problem.task_place(tasks[i])));
    }
  }
  double total = 0;
  for (size_t joined = 0; joined < tasks.size(); ++joined) {
    const auto next = static_cast<size_t>(std::ranges::min_element(nearest) - nearest.begin());
    total += nearest[next];
    nearest[next] = HUGE_VAL;
    for (size_t i = 0; i < tasks.size(); ++i) {
      if (nearest[i] == HUGE_VAL) continue;
      nearest[i] = std::min(nearest[i], problem.walk_minutes(problem.task_place(tasks[next]),
                                                             problem.task_place(tasks[i])));
    }
  }
  return total;
}

Load load_of(const CrewProblem& problem, ToolKind kind, const std::vector<char>& under_way) {
  Load load;
  load.tools = usable_tools(problem.shop, problem.crew, kind);
  if (load.tools == 0) return load;
  std::vector<Index> tasks;
  std::vector<int> from;
  for (size_t t = 0; t < problem.shop.tools.size(); ++t) {
    const bool one = problem.shop.tools[t].kind == kind && problem.crew.usable[t];
    if (one) from.push_back(problem.tool_place(static_cast<Index>(t)));
  }
  for (size_t i = 0; i < problem.tasks.size(); ++i) {
    const CrewTask& task = problem.tasks[i];
    if (under_way[i]) from.push_back(problem.task_place(static_cast<Index>(i)));
    if (task.tool != kind || under_way[i]) continue;
    tasks.push_back(static_cast<Index>(i));
    load.minutes += task.minutes;
  }
  load.tasks = static_cast<int>(tasks.size());
  load.carrying = carrying_minutes(problem, tasks, from);
  return load;
}

Work work_of(const CrewProblem& problem) {
  const Crew& crew = problem.crew;
  Work work;
  std::vector<char> under_way(problem.tasks.size(), 0);
  std::vector<double> left(crew.people.size(), 0);
  work.under_way.assign(crew.people.size(), 0);
  for (const UnderWay& now : crew.under_way) {
    if (!now.people.empty()) under_way[now.duty] = 1;
    for (Index person : now.people) {
      work.under_way[person] = 1;
      left[person] = now.left_minutes;
    }
  }
  for (size_t p = 0; p < crew.people.size(); ++p) {
    work.from.push_back(work.under_way[p] ? 0 : crew.people[p].from_minute);
    work.person_minutes += left[p];
  }
  for (size_t i = 0; i < problem.tasks.size(); ++i) {
    if (!under_way[i]) work.person_minutes += problem.tasks[i].people * problem.tasks[i].minutes;
  }
  for (size_t kind = 0; kind < kToolKinds; ++kind) {
    work.loads[kind] = load_of(problem, static_cast<ToolKind>(kind), under_way);
  }
  return work;
}

/// The first minute by which people who begin at `from` have so many minutes together; without
/// `except`, if that is one of them.
double minute_of(const std::vector<double>& from, double person_minutes,
                 size_t except = std::string::npos) {
  std::vector<double> begins;
  for (size_t p = 0; p < from.size(); ++p) {
    if (p != except) begins.push_back(from[p]);
  }
  std::ranges::sort(begins);
  double sum = person_minutes;
  double minute = HUGE_VAL;
  for (size_t there = 0; there < begins.size() && begins[there] < minute; ++there) {
    sum += begins[there];
    minute = sum / static_cast<double>(there + 1);
  }
  return minute;
}

/// The longest chain, each task not before its minute.
double chain_minutes(const std::vector<CrewTask>& tasks, const Project& plain) {
  double longest = 0;
  std::vector<double> end(tasks.size(), 0);
  for (int i : precedence_order(plain)) {
    double start = tasks[i].not_before;
    for (Index before : tasks[i].after) start = std::max(start, end[before]);
    end[i] = start + tasks[i].minutes;
    longest = std::max(longest, end[i]);
  }
  return longest;
}

/// What every timetable needs that ends at this minute, and how much later it must end to do with
/// less.
struct NeedsAt {
  LaneNeeds needs;
  double until = HUGE_VAL;
};

NeedsAt needs_at(const Work& work, double minute) {
  NeedsAt at;
  const auto enough_from = [&](double other) {
    if (other > minute + kRounding) at.until = std::min(at.until, other);
    return other > minute + kRounding;
  };
  for (size_t kind = 0; kind < kToolKinds; ++kind) {
    const Load& load = work.loads[kind];
    int& needed = at.needs.tools[kind];
    needed = load.tasks > 0 && load.tools > 0 ? 1 : 0;
    while (needed > 0 && needed < load.tools &&
           enough_from((load.minutes + load.carrying) / needed)) {
      ++needed;
    }
  }
  for (size_t p = 0; p < work.from.size(); ++p) {
    // The others alone would take longer.
    const bool leaves =
        !work.under_way[p] && enough_from(minute_of(work.from, work.person_minutes, p));
    at.needs.leaves.push_back(leaves);
  }
  return at;
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
  for (const UnderWay& now : crew.under_way) {
    if (now.people.empty()) continue;
    // It goes on, whatever it should have waited for.
    tasks[now.duty].minutes = now.left_minutes;
    tasks[now.duty].not_before = 0;
    tasks[now.duty].after.clear();
  }
  const CrewProblem problem(shop, crew, tasks);
  const Project plain = without_walking(shop, crew, tasks);
  const Work work = work_of(problem);
  double bound = std::max({simple_bound_minutes(plain), chain_minutes(tasks, plain),
                           minute_of(work.from, work.person_minutes)});
  for (const Load& load : work.loads) {
    if (load.tools > 0) bound = std::max(bound, (load.minutes + load.carrying) / load.tools);
  }
  for (int i = 0; i < kNeedsTried; ++i) {
    const NeedsAt at = needs_at(work, bound);
    const double walking = least_walking_minutes(problem, at.needs);
    const double end = minute_of(work.from, work.person_minutes + walking);
    if (end <= at.until) return std::max(bound, end);
    bound = at.until;
  }
  return bound;
}

}  // namespace chipfall
