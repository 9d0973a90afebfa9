#include "core/crew/timetable.h"

#include <algorithm>
#include <cmath>

#include "core/duty/minutes.h"

namespace chipfall {
namespace {

constexpr double kNever = std::numeric_limits<double>::infinity();
constexpr double kTie_minutes = 1e-6;

/// Where everybody and everything is while the timetable grows.
struct Stage {
  const CrewProblem& problem;
  std::vector<int> at;         ///< places of people
  std::vector<double> free;    ///< of people
  std::vector<Index> in_hand;  ///< of people
  std::vector<int> tool_at;    ///< places of tools
  std::vector<double> tool_free;
  std::vector<Index> freed_by;  ///< of tools: the task that must end first, or kNone
  std::vector<double> ends;     ///< of tasks; kNever while not placed
  std::vector<double> zone_free;
  std::vector<double> unpleasant;  ///< of people
  std::vector<char> busy;          ///< people who have had something to do
  CrewTimetable out;
};

Stage opening(const CrewProblem& problem) {
  const size_t tools = problem.shop.tools.size();
  const size_t people = problem.crew.people.size();
  Stage stage{problem, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}};
  for (size_t p = 0; p < people; ++p) {
    stage.at.push_back(problem.person_place(static_cast<Index>(p)));
    stage.free.push_back(problem.crew.people[p].from_minute);
    stage.in_hand.push_back(problem.crew.people[p].tool);
  }
  for (size_t t = 0; t < tools; ++t) {
    stage.tool_at.push_back(problem.tool_place(static_cast<Index>(t)));
  }
  stage.tool_free.assign(tools, 0);
  stage.ends.assign(problem.tasks.size(), kNever);
  stage.zone_free.assign(problem.zones(), 0);
  stage.freed_by.assign(tools, kNone);
  for (size_t i = 0; i < problem.tasks.size(); ++i) {
    for (Index tool : problem.tasks[i].frees) stage.freed_by[tool] = static_cast<Index>(i);
  }
  stage.unpleasant.assign(people, 0);
  stage.busy.assign(people, 0);
  stage.out.lanes.resize(people);
  stage.out.assignment.people.resize(problem.tasks.size());
  stage.out.assignment.tool.assign(problem.tasks.size(), kNone);
  stage.out.assignment.order.reserve(problem.tasks.size());
  return stage;
}

/// When a tool is there for the next one; never while what must be done to it first has no time
/// yet.
double tool_ready(const Stage& stage, Index tool) {
  const Index first = stage.freed_by[tool];
  return first == kNone ? stage.tool_free[tool]
                        : std::max(stage.tool_free[tool], stage.ends[first]);
}

/// How somebody would come to a task.
struct Way {
  double arrive = kNever;
  double walk = 0;
  Index tool = kNone;
  bool fetched = false;
};

Way way_with(const Stage& stage, Index person, Index task, Index tool) {
  const CrewProblem& problem = stage.problem;
  const int goal = problem.task_place(task);
  Way way;
  way.tool = tool;
  if (tool == kNone || stage.in_hand[person] == tool) {
    way.walk = problem.walk_minutes(stage.at[person], goal);
    way.arrive = stage.free[person] + way.walk;
    return way;
  }
  const double to_tool = problem.walk_minutes(stage.at[person], stage.tool_at[tool]);
  const double to_task = problem.walk_minutes(stage.tool_at[tool], goal);
  way.walk = to_tool + kFetch_minutes + to_task;
  way.arrive =
      std::max(stage.free[person] + to_tool, tool_ready(stage, tool)) + kFetch_minutes + to_task;
  way.fetched = true;
  return way;
}

/// The quickest way: with the tool in hand, or the one that is soonest there.
Way best_way(const Stage& stage, Index person, Index task) {
  const std::optional<ToolKind> kind = stage.problem.tasks[task].tool;
  if (!kind) return way_with(stage, person, task, kNone);
  Way best;
  for (size_t t = 0; t < stage.tool_at.size(); ++t) {
    if (!stage.problem.crew.usable[t] || stage.problem.shop.tools[t].kind != *kind) continue;
    const Way way = way_with(stage, person, task, static_cast<Index>(t));
    if (way.arrive < best.arrive) best = way;
  }
  return best;
}

/// Everything that must have happened before the task may begin, people and tools aside.
double ready_minute(const Stage& stage, const CrewTask& task) {
  double ready = task.not_before;
  for (Index before : task.after) {
    // Left out altogether, it holds nobody up.
    if (stage.ends[before] != kNever) ready = std::max(ready, stage.ends[before]);
  }
  return task.zone == kNone ? ready : std::max(ready, stage.zone_free[task.zone]);
}

struct Chosen {
  std::vector<Index> people;
  std::vector<Way> ways;  ///< parallel; only the first carries the tool
  double start = kNever;
};

/// Puts the task down and moves everyone.
void place(Stage& stage, Index index, const Chosen& chosen, double minutes) {
  const CrewTask& task = stage.problem.tasks[index];
  const double end = chosen.start + minutes;
  for (size_t i = 0; i < chosen.people.size(); ++i) {
    const Index person = chosen.people[i];
    const Way& way = chosen.ways[i];
    const double waited = chosen.start - way.arrive;
    // Those who would only wait set out later.
    stage.out.lanes[person].steps.push_back({index, stage.free[person] + std::max(0.0, waited),
                                             chosen.start, end, way.tool, way.fetched});
    stage.out.walked_minutes += way.walk;
    stage.at[person] = stage.problem.task_place(index);
    stage.free[person] = end;
    stage.busy[person] = 1;
    stage.in_hand[person] = way.tool;
    if (task.unpleasant) stage.unpleasant[person] += minutes;
    if (way.tool == kNone) continue;
    stage.tool_at[way.tool] = stage.problem.task_place(index);
    stage.tool_free[way.tool] = end;
    for (size_t other = 0; other < stage.in_hand.size(); ++other) {
      const bool taken_over = stage.in_hand[other] == way.tool;
      if (taken_over && static_cast<Index>(other) != person) stage.in_hand[other] = kNone;
    }
  }
  stage.out.waited_minutes += end / static_cast<double>(stage.problem.tasks.size());
  if (task.urgent) stage.out.urgent_minutes += end;
  if (task.zone != kNone) stage.zone_free[task.zone] = end;
  stage.ends[index] = end;
  stage.out.assignment.order.push_back(index);
  stage.out.assignment.people[index] = chosen.people;
  stage.out.assignment.tool[index] = chosen.ways.front().tool;
}

/// Those who can begin it first; fewest steps walked, then the crew's order, decide ties.
Chosen choose(const Stage& stage, Index index) {
  struct Candidate {
    double start;
    double walk;
    Index person;
    Way way;
    bool operator<(const Candidate& other) const {
      if (std::abs(start - other.start) > kTie_minutes) return start < other.start;
      if (std::abs(walk - other.walk) > kTie_minutes) return walk < other.walk;
      return person < other.person;
    }
  };
  const CrewTask& task = stage.problem.tasks[index];
  const double ready = ready_minute(stage, task);
  std::vector<Candidate> candidates;
  candidates.reserve(stage.at.size());
  for (size_t p = 0; p < stage.at.size(); ++p) {
    // Helpers of a task for two need no tool of their own; the first to come brings it.
    const Way way = best_way(stage, static_cast<Index>(p), index);
    if (way.arrive == kNever) continue;
    const double start = std::max(ready, way.arrive);
    if (start + task.minutes > stage.problem.crew.people[p].until_minute + 1e-9) continue;
    candidates.push_back({start, way.walk, static_cast<Index>(p), way});
  }
  Chosen chosen;
  const auto needed = static_cast<size_t>(task.people);
  if (candidates.size() < needed) return chosen;
  // By selection, since "about equal" is no strict order for a sort.
  chosen.start = ready;
  for (size_t i = 0; i < needed; ++i) {
    size_t best = i;
    for (size_t c = i + 1; c < candidates.size(); ++c) {
      if (candidates[c] < candidates[best]) best = c;
    }
    std::swap(candidates[i], candidates[best]);
    const Index person = candidates[i].person;
    chosen.people.push_back(person);
    chosen.ways.push_back(i == 0 ? candidates[i].way : way_with(stage, person, index, kNone));
    chosen.start = std::max(chosen.start, chosen.ways.back().arrive);
  }
  return chosen;
}

Chosen as_assigned(const Stage& stage, Index index, const Assignment& assignment) {
  Chosen chosen;
  chosen.start = ready_minute(stage, stage.problem.tasks[index]);
  for (Index person : assignment.people[index]) {
    const Index tool = chosen.people.empty() ? assignment.tool[index] : kNone;
    chosen.people.push_back(person);
    chosen.ways.push_back(way_with(stage, person, index, tool));
    chosen.start = std::max(chosen.start, chosen.ways.back().arrive);
  }
  return chosen;
}

/// Every tool that left its hook is taken home by whoever can do so first.
void take_tools_home(Stage& stage) {
  const CrewProblem& problem = stage.problem;
  for (size_t t = 0; t < stage.tool_at.size(); ++t) {
    if (stage.tool_free[t] <= 0) continue;
    const int hook = problem.hook_place(static_cast<Index>(t));
    const double carry = problem.walk_minutes(stage.tool_at[t], hook);
    if (carry <= 0) continue;
    size_t best = 0;
    double soonest = kNever;
    // Somebody who is still there; if all have left by then, it was the last of them.
    for (bool may_have_left : {false, true}) {
      for (size_t p = 0; p < stage.at.size() && (soonest == kNever || !may_have_left); ++p) {
        const double home =
            std::max(stage.free[p] + problem.walk_minutes(stage.at[p], stage.tool_at[t]),
                     stage.tool_free[t]) +
            carry;
        if (home < soonest && (may_have_left || home <= problem.crew.people[p].until_minute)) {
          soonest = home;
          best = p;
        }
      }
    }
    stage.out.walked_minutes += soonest - stage.free[best];
    stage.free[best] = soonest;
    stage.at[best] = hook;
    stage.busy[best] = 1;
  }
}

void close(Stage& stage) {
  take_tools_home(stage);
  double most = 0;
  double total = 0;
  for (size_t p = 0; p < stage.at.size(); ++p) {
    Lane& lane = stage.out.lanes[p];
    lane.home_minute = stage.free[p];
    if (stage.busy[p]) stage.out.minutes = std::max(stage.out.minutes, lane.home_minute);
    most = std::max(most, stage.unpleasant[p]);
    total += stage.unpleasant[p];
  }
  stage.out.unfair_minutes = most - total / static_cast<double>(stage.at.size());
}

/// What is under way goes on with the same people, before anything new.
void keep_under_way(Stage& stage) {
  for (const UnderWay& now : stage.problem.crew.under_way) {
    Chosen chosen;
    chosen.start = 0;
    for (size_t i = 0; i < now.people.size(); ++i) {
      chosen.people.push_back(now.people[i]);
      chosen.ways.push_back({0, 0, i == 0 ? now.tool : kNone, false});
    }
    if (!chosen.people.empty()) place(stage, now.duty, chosen, now.left_minutes);
  }
}

CrewTimetable carried_out(const CrewProblem& problem, const Assignment& assignment,
                          const std::vector<double>& minutes) {
  Stage stage = opening(problem);
  keep_under_way(stage);
  for (Index index : assignment.order) {
    if (stage.ends[index] != kNever) continue;
    place(stage, index, as_assigned(stage, index, assignment), minutes[index]);
  }
  close(stage);
  return std::move(stage.out);
}

}  // namespace

CrewProblem::CrewProblem(const Shop& its_shop, const Crew& its_crew,
                         const std::vector<CrewTask>& its_tasks)
    : shop(its_shop), crew(its_crew), tasks(its_tasks) {
  std::vector<Point> points;
  const auto count = [&] { return static_cast<int>(points.size()); };
  for (const CrewTask& task : tasks) {
    points.push_back(task.at);
    zones_ = std::max(zones_, static_cast<size_t>(task.zone + 1));
  }
  hooks_ = count();
  for (const CleaningTool& tool : shop.tools) points.push_back(tool.hangs_at);
  tools_ = count();
  points.insert(points.end(), crew.tools_at.begin(), crew.tools_at.end());
  people_ = count();
  for (const Person& person : crew.people) points.push_back(person.at);
  places_ = count();
  walks_.reserve(points.size() * points.size());
  for (Point from : points) {
    for (Point to : points) {
      walks_.push_back(snapped_minutes(chipfall::walk_minutes(distance(from, to))));
    }
  }
}

CrewTimetable schedule(const CrewProblem& problem, const std::vector<Index>& order) {
  Stage stage = opening(problem);
  keep_under_way(stage);
  for (Index index : order) {
    if (stage.ends[index] != kNever) continue;
    const Chosen chosen = choose(stage, index);
    if (chosen.people.empty()) {
      stage.out.left_out.push_back(index);
    } else {
      place(stage, index, chosen, problem.tasks[index].minutes);
    }
  }
  close(stage);
  return std::move(stage.out);
}

CrewTimetable schedule_as(const CrewProblem& problem, const Assignment& assignment) {
  std::vector<double> minutes;
  for (const CrewTask& task : problem.tasks) minutes.push_back(task.minutes);
  return carried_out(problem, assignment, minutes);
}

double replay_minutes(const CrewProblem& problem, const Assignment& assignment,
                      const std::vector<double>& minutes) {
  return carried_out(problem, assignment, minutes).minutes;
}

}  // namespace chipfall
