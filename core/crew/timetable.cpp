#include "core/crew/timetable.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "core/duty/minutes.h"

namespace chipfall {
namespace {

constexpr double kNever = std::numeric_limits<double>::infinity();

/// Where everybody and everything is while the timetable grows.
struct Stage {
  const Shop& shop;
  const std::vector<CrewTask>& tasks;
  std::vector<Point> at;       ///< of people
  std::vector<double> free;    ///< of people
  std::vector<double> until;   ///< of people
  std::vector<Index> in_hand;  ///< of people
  std::vector<Point> tool_at;
  std::vector<double> tool_free;
  std::vector<bool> usable;
  std::vector<Index> freed_by;  ///< of tools: the task that must end first, or kNone
  std::vector<double> ends;     ///< of tasks; kNever while not placed
  std::map<Index, double> zone_free;
  std::vector<double> unpleasant;  ///< of people
  std::vector<bool> busy;          ///< people who have had something to do
  CrewTimetable out;
};

Stage opening(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& tasks) {
  Stage stage{shop, tasks, {}, {}, {}, {}, crew.tools_at, {}, crew.usable, {}, {}, {}, {}, {}, {}};
  for (const Person& person : crew.people) {
    stage.at.push_back(person.at);
    stage.free.push_back(person.from_minute);
    stage.until.push_back(person.until_minute);
    stage.in_hand.push_back(person.tool);
  }
  stage.tool_free.assign(shop.tools.size(), 0);
  stage.ends.assign(tasks.size(), kNever);
  stage.freed_by.assign(shop.tools.size(), kNone);
  for (size_t i = 0; i < tasks.size(); ++i) {
    for (Index tool : tasks[i].frees) stage.freed_by[tool] = static_cast<Index>(i);
  }
  stage.unpleasant.assign(crew.people.size(), 0);
  stage.busy.assign(crew.people.size(), false);
  stage.out.lanes.resize(crew.people.size());
  stage.out.assignment.people.resize(tasks.size());
  stage.out.assignment.tool.assign(tasks.size(), kNone);
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

Way way_with(const Stage& stage, Index person, const CrewTask& task, Index tool) {
  Way way;
  way.tool = tool;
  if (tool == kNone || stage.in_hand[person] == tool) {
    way.walk = walk_minutes(distance(stage.at[person], task.at));
    way.arrive = stage.free[person] + way.walk;
    return way;
  }
  const double to_tool = walk_minutes(distance(stage.at[person], stage.tool_at[tool]));
  const double to_task = walk_minutes(distance(stage.tool_at[tool], task.at));
  way.walk = to_tool + kFetch_minutes + to_task;
  way.arrive =
      std::max(stage.free[person] + to_tool, tool_ready(stage, tool)) + kFetch_minutes + to_task;
  way.fetched = true;
  return way;
}

/// The quickest way: with the tool in hand, or the one that is soonest there.
Way best_way(const Stage& stage, Index person, const CrewTask& task) {
  if (!task.tool) return way_with(stage, person, task, kNone);
  Way best;
  for (size_t t = 0; t < stage.shop.tools.size(); ++t) {
    if (!stage.usable[t] || stage.shop.tools[t].kind != *task.tool) continue;
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
  if (const auto zone = stage.zone_free.find(task.zone);
      task.zone != kNone && zone != stage.zone_free.end()) {
    ready = std::max(ready, zone->second);
  }
  return ready;
}

struct Chosen {
  std::vector<Index> people;
  std::vector<Way> ways;  ///< parallel; only the first carries the tool
  double start = kNever;
};

/// Puts the task down and moves everyone.
void place(Stage& stage, Index index, const Chosen& chosen, double minutes) {
  const CrewTask& task = stage.tasks[index];
  const double end = chosen.start + minutes;
  for (size_t i = 0; i < chosen.people.size(); ++i) {
    const Index person = chosen.people[i];
    const Way& way = chosen.ways[i];
    const double waited = chosen.start - way.arrive;
    // Those who would only wait set out later.
    stage.out.lanes[person].steps.push_back({index, stage.free[person] + std::max(0.0, waited),
                                             chosen.start, end, way.tool, way.fetched});
    stage.out.walked_minutes += way.walk;
    stage.at[person] = task.at;
    stage.free[person] = end;
    stage.busy[person] = true;
    stage.in_hand[person] = way.tool;
    if (task.unpleasant) stage.unpleasant[person] += minutes;
    if (way.tool == kNone) continue;
    stage.tool_at[way.tool] = task.at;
    stage.tool_free[way.tool] = end;
    for (size_t other = 0; other < stage.in_hand.size(); ++other) {
      const bool taken_over = stage.in_hand[other] == way.tool;
      if (taken_over && static_cast<Index>(other) != person) stage.in_hand[other] = kNone;
    }
  }
  stage.out.waited_minutes += end / static_cast<double>(stage.tasks.size());
  if (task.urgent) stage.out.urgent_minutes += end;
  if (task.zone != kNone) stage.zone_free[task.zone] = end;
  stage.ends[index] = end;
  stage.out.assignment.order.push_back(index);
  stage.out.assignment.people[index] = chosen.people;
  stage.out.assignment.tool[index] = chosen.ways.front().tool;
}

/// Those who can begin it first; fewest steps walked, then the crew's order, decide ties.
Chosen choose(const Stage& stage, const CrewTask& task) {
  struct Candidate {
    Index person;
    Way way;
  };
  const double ready = ready_minute(stage, task);
  std::vector<Candidate> candidates;
  for (size_t p = 0; p < stage.at.size(); ++p) {
    // Helpers of a task for two need no tool of their own; the first to come brings it.
    const Way way = best_way(stage, static_cast<Index>(p), task);
    if (way.arrive == kNever) continue;
    const double end = std::max(ready, way.arrive) + task.minutes;
    if (end <= stage.until[p] + 1e-9) candidates.push_back({static_cast<Index>(p), way});
  }
  Chosen chosen;
  if (candidates.size() < static_cast<size_t>(task.people)) return chosen;
  std::ranges::stable_sort(candidates, {}, [&](const Candidate& c) {
    const double start = std::max(ready, c.way.arrive);
    return std::tuple(std::round(start * 1e6), std::round(c.way.walk * 1e6));
  });
  chosen.start = ready;
  for (int i = 0; i < task.people; ++i) {
    Way way = candidates[static_cast<size_t>(i)].way;
    if (i > 0) way = way_with(stage, candidates[static_cast<size_t>(i)].person, task, kNone);
    chosen.people.push_back(candidates[static_cast<size_t>(i)].person);
    chosen.ways.push_back(way);
    chosen.start = std::max(chosen.start, way.arrive);
  }
  return chosen;
}

Chosen as_assigned(const Stage& stage, const CrewTask& task, const std::vector<Index>& people,
                   Index tool) {
  Chosen chosen;
  chosen.start = ready_minute(stage, task);
  for (size_t i = 0; i < people.size(); ++i) {
    chosen.people.push_back(people[i]);
    chosen.ways.push_back(way_with(stage, people[i], task, i == 0 ? tool : kNone));
    chosen.start = std::max(chosen.start, chosen.ways.back().arrive);
  }
  return chosen;
}

/// Every tool that left its hook is taken home by whoever can do so first.
void take_tools_home(Stage& stage) {
  for (size_t t = 0; t < stage.shop.tools.size(); ++t) {
    const Point hook = stage.shop.tools[t].hangs_at;
    if (stage.tool_at[t] == hook || stage.tool_free[t] <= 0) continue;
    size_t best = 0;
    double soonest = kNever;
    // Somebody who is still there; if all have left by then, it was the last of them.
    for (bool may_have_left : {false, true}) {
      for (size_t p = 0; p < stage.at.size() && (soonest == kNever || !may_have_left); ++p) {
        const double home =
            std::max(stage.free[p] + walk_minutes(distance(stage.at[p], stage.tool_at[t])),
                     stage.tool_free[t]) +
            walk_minutes(distance(stage.tool_at[t], hook));
        if (home < soonest && (may_have_left || home <= stage.until[p])) {
          soonest = home;
          best = p;
        }
      }
    }
    stage.out.walked_minutes += soonest - stage.free[best];
    stage.free[best] = soonest;
    stage.at[best] = hook;
    stage.busy[best] = true;
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
void keep_under_way(Stage& stage, const Crew& crew) {
  for (const UnderWay& now : crew.under_way) {
    Chosen chosen;
    chosen.start = 0;
    for (size_t i = 0; i < now.people.size(); ++i) {
      chosen.people.push_back(now.people[i]);
      chosen.ways.push_back({0, 0, i == 0 ? now.tool : kNone, false});
    }
    if (!chosen.people.empty()) place(stage, now.duty, chosen, now.left_minutes);
  }
}

CrewTimetable carried_out(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& tasks,
                          const Assignment& assignment, const std::vector<double>& minutes) {
  Stage stage = opening(shop, crew, tasks);
  keep_under_way(stage, crew);
  for (Index index : assignment.order) {
    if (stage.ends[index] != kNever) continue;
    place(stage, index,
          as_assigned(stage, tasks[index], assignment.people[index], assignment.tool[index]),
          minutes[index]);
  }
  close(stage);
  return std::move(stage.out);
}

}  // namespace

CrewTimetable schedule(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& tasks,
                       const std::vector<Index>& order) {
  Stage stage = opening(shop, crew, tasks);
  keep_under_way(stage, crew);
  for (Index index : order) {
    if (stage.ends[index] != kNever) continue;
    const Chosen chosen = choose(stage, tasks[index]);
    if (chosen.people.empty()) {
      stage.out.left_out.push_back(index);
    } else {
      place(stage, index, chosen, tasks[index].minutes);
    }
  }
  close(stage);
  return std::move(stage.out);
}

CrewTimetable schedule_as(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& tasks,
                          const Assignment& assignment) {
  std::vector<double> minutes;
  for (const CrewTask& task : tasks) minutes.push_back(task.minutes);
  return carried_out(shop, crew, tasks, assignment, minutes);
}

double replay_minutes(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& tasks,
                      const Assignment& assignment, const std::vector<double>& minutes) {
  return carried_out(shop, crew, tasks, assignment, minutes).minutes;
}

}  // namespace chipfall
