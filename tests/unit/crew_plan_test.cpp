#include "core/crew/plan.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <set>

#include <doctest/doctest.h>

#include "core/duty/minutes.h"
#include "tests/unit/random_crew.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

/// What is wrong with a timetable, by looking at its lanes alone; empty when nothing is.
std::string why_not_kept(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& tasks,
                         const CrewTimetable& timetable) {
  std::vector<std::vector<const Step*>> steps(tasks.size());
  for (const Lane& lane : timetable.lanes) {
    for (const Step& step : lane.steps) steps[step.task].push_back(&step);
  }
  const std::set<Index> left_out(timetable.left_out.begin(), timetable.left_out.end());
  struct Held {
    double from, to;
    int what;
  };
  std::vector<Held> tools, zones;
  for (size_t i = 0; i < tasks.size(); ++i) {
    if (left_out.contains(static_cast<Index>(i))) continue;
    if (steps[i].size() != static_cast<size_t>(tasks[i].people)) return "wrong number of people";
    const Step& first = *steps[i][0];
    int with_tool = 0;
    for (const Step* step : steps[i]) {
      if (step->start != first.start || step->end != first.end) return "helpers at other times";
      if (std::abs(step->end - step->start - tasks[i].minutes) > 1e-9) return "wrong length";
      if (step->tool == kNone) continue;
      ++with_tool;
      if (shop.tools[step->tool].kind != tasks[i].tool) return "wrong kind of tool";
      if (!crew.usable[step->tool]) return "a broken tool";
      tools.push_back({first.start, first.end, step->tool});
    }
    if (with_tool != (tasks[i].tool ? 1 : 0)) return "tool missing or too many";
    for (Index before : tasks[i].after) {
      if (left_out.contains(before)) continue;
      if (steps[before].empty() || steps[before][0]->end > first.start + 1e-9) {
        return "before what it comes after";
      }
    }
    if (tasks[i].zone != kNone) zones.push_back({first.start, first.end, tasks[i].zone});
  }
  for (const auto* held : {&tools, &zones}) {
    for (const Held& a : *held) {
      for (const Held& b : *held) {
        if (&a != &b && a.what == b.what && a.from < b.to - 1e-9 && b.from < a.to - 1e-9) {
          return "two at one tool or zone";
        }
      }
    }
  }
  for (size_t p = 0; p < timetable.lanes.size(); ++p) {
    Point at = crew.people[p].at;
    double free = crew.people[p].from_minute;
    for (const Step& step : timetable.lanes[p].steps) {
      const double walk = walk_minutes(distance(at, tasks[step.task].at));
      if (step.start < free + walk - 1e-9) return "walks faster than people walk";
      if (step.set_out < free - 1e-9) return "sets out before being free";
      if (step.end > crew.people[p].until_minute + 1e-9) return "works after having left";
      at = tasks[step.task].at;
      free = step.end;
    }
    if (!timetable.lanes[p].steps.empty() && timetable.minutes < free - 1e-9) {
      return "ends before its last task";
    }
  }
  return {};
}

PlanLimits quick(int evaluations = 200) {
  PlanLimits limits;
  limits.evaluations = evaluations;
  return limits;
}

}  // namespace

TEST_CASE("every crew plan can be kept, and none ends before its bound") {
  for (unsigned seed = 0; seed < 150; ++seed) {
    CAPTURE(seed);
    Dice dice(seed);
    const int brooms = 1 + dice.upto(1), vacs = 1 + dice.upto(1);
    const Shop shop = tool_shop(vacs, brooms);
    const Crew crew = crew_of(shop, 1 + dice.upto(4));
    std::vector<CrewTask> tasks = random_tasks(dice, 4 + dice.upto(26));
    for (CrewTask& task : tasks) {
      task.people = std::min(task.people, static_cast<int>(crew.people.size()));
    }
    const CrewPlan plan = plan_crew(shop, crew, tasks, quick());
    CHECK(why_not_kept(shop, crew, tasks, plan.timetable) == "");
    CHECK(plan.timetable.left_out.empty());
    CHECK(plan.timetable.minutes >= plan.lower_bound_minutes - 1e-9);
    CHECK(plan.proven == (plan.timetable.minutes <= plan.lower_bound_minutes + 1e-9));
  }
}

TEST_CASE("improvement never ends later than the list taken as it stands") {
  for (unsigned seed = 0; seed < 40; ++seed) {
    CAPTURE(seed);
    Dice dice(seed);
    const Shop shop = tool_shop(2, 1);
    const Crew crew = crew_of(shop, 3);
    const std::vector<CrewTask> tasks = random_tasks(dice, 25);
    std::vector<Index> as_listed(tasks.size());
    std::iota(as_listed.begin(), as_listed.end(), 0);
    const double plain = schedule(CrewProblem(shop, crew, tasks), as_listed).minutes;
    const CrewPlan plan = plan_crew(shop, crew, tasks, quick(600));
    // A little walking or unfairness may be bought with a little time.
    CHECK(plan.timetable.minutes <= plain + 0.5);
  }
}

TEST_CASE("a handful of duties is planned to the proven best, by trying everything") {
  for (unsigned seed = 0; seed < 40; ++seed) {
    CAPTURE(seed);
    Dice dice(seed);
    const Shop shop = tool_shop(1, 1);
    const Crew crew = crew_of(shop, 2);
    const std::vector<CrewTask> tasks = random_tasks(dice, 4, false);
    PlanLimits limits = quick(300);
    limits.nodes = 2000000;
    const CrewPlan plan = plan_crew(shop, crew, tasks, limits);
    // Every order and every choice of person, worked out by replaying them one by one: the tool is
    // the only one of its kind here.
    double best = HUGE_VAL;
    std::vector<Index> order(tasks.size());
    std::iota(order.begin(), order.end(), 0);
    do {
      bool allowed = true;
      for (size_t i = 0; i < order.size() && allowed; ++i) {
        for (Index before : tasks[order[i]].after) {
          allowed &= std::find(order.begin(), order.begin() + static_cast<long>(i), before) !=
                     order.begin() + static_cast<long>(i);
        }
      }
      if (!allowed) continue;
      for (int who = 0; who < 16; ++who) {
        Assignment assignment;
        assignment.order = order;
        for (size_t i = 0; i < tasks.size(); ++i) {
          assignment.people.push_back({(who >> i) & 1});
          assignment.tool.push_back(!tasks[i].tool                     ? kNone
                                    : *tasks[i].tool == ToolKind::kVac ? 0
                                                                       : 1);
        }
        best = std::min(best, schedule_as(CrewProblem(shop, crew, tasks), assignment).minutes);
      }
    } while (std::ranges::next_permutation(order).found);
    CHECK(plan.proven);
    CHECK(plan.timetable.minutes == doctest::Approx(best).epsilon(1e-9));
  }
}

TEST_CASE("the same crew and duties give the same plan") {
  Dice dice(3);
  const Shop shop = tool_shop(2, 1);
  const std::vector<CrewTask> tasks = random_tasks(dice, 20);
  const CrewPlan a = plan_crew(shop, crew_of(shop, 3), tasks, quick());
  const CrewPlan b = plan_crew(shop, crew_of(shop, 3), tasks, quick());
  CHECK(a.timetable.minutes == b.timetable.minutes);
  CHECK(a.timetable.assignment.order == b.timetable.assignment.order);
  CHECK(a.timetable.assignment.people == b.timetable.assignment.people);
}

TEST_CASE("replaying the plan's own minutes ends when the plan does") {
  Dice dice(5);
  const Shop shop = tool_shop(1, 2);
  const Crew crew = crew_of(shop, 3);
  const std::vector<CrewTask> tasks = random_tasks(dice, 18);
  const CrewPlan plan = plan_crew(shop, crew, tasks, quick());
  std::vector<double> minutes;
  for (const CrewTask& task : tasks) minutes.push_back(task.minutes);
  CHECK(replay_minutes(CrewProblem(shop, crew, tasks), plan.timetable.assignment, minutes) ==
        doctest::Approx(plan.timetable.minutes));
  for (double& m : minutes) m *= 1.5;
  CHECK(replay_minutes(CrewProblem(shop, crew, tasks), plan.timetable.assignment, minutes) >
        plan.timetable.minutes);
}

TEST_CASE("with one vac, two people never vac at once, and the tool is carried on") {
  const Shop shop = tool_shop(1, 0);
  const Crew crew = crew_of(shop, 2);
  std::vector<CrewTask> tasks(4);
  for (size_t i = 0; i < tasks.size(); ++i) {
    tasks[i].minutes = 3;
    tasks[i].at = {3.0 + static_cast<double>(i), 2};
    tasks[i].tool = ToolKind::kVac;
  }
  const CrewPlan plan = plan_crew(shop, crew, tasks, quick());
  CHECK(why_not_kept(shop, crew, tasks, plan.timetable) == "");
  CHECK(plan.timetable.minutes > 12);
  int fetched = 0;
  for (const Lane& lane : plan.timetable.lanes) {
    for (const Step& step : lane.steps) fetched += step.fetched;
  }
  CHECK(fetched == 1);
}

TEST_CASE("what is under way goes on with the same people, and a broken vac is left alone") {
  const Shop shop = tool_shop(2, 1);
  Dice dice(8);
  std::vector<CrewTask> tasks = random_tasks(dice, 12, false);
  for (CrewTask& task : tasks) task.after.clear();
  tasks[4].tool = ToolKind::kVac;
  Crew crew = crew_of(shop, 3);
  crew.under_way = {{4, {2}, 1, 7.5}};
  crew.usable[0] = false;
  const CrewPlan plan = plan_crew(shop, crew, tasks, quick());
  const Step& first = plan.timetable.lanes[2].steps.front();
  CHECK(first.task == 4);
  CHECK(first.start == 0);
  CHECK(first.end == 7.5);
  for (const Lane& lane : plan.timetable.lanes) {
    for (const Step& step : lane.steps) CHECK(step.tool != 0);
  }
}

TEST_CASE("who joins later begins later, and who leaves takes nothing on beyond that") {
  const Shop shop = tool_shop(2, 2);
  Dice dice(9);
  const std::vector<CrewTask> tasks = random_tasks(dice, 15, false);
  Crew crew = crew_of(shop, 3);
  crew.people[1].from_minute = 10;
  crew.people[2].until_minute = 6;
  const CrewPlan plan = plan_crew(shop, crew, tasks, quick());
  CHECK(why_not_kept(shop, crew, tasks, plan.timetable) == "");
  for (const Step& step : plan.timetable.lanes[1].steps) CHECK(step.start >= 10);
  for (const Step& step : plan.timetable.lanes[2].steps) CHECK(step.end <= 6);
}

TEST_CASE("what nobody can do is named, not dropped") {
  const Shop shop = tool_shop(1, 1);
  Crew crew = crew_of(shop, 2);
  crew.usable[0] = false;
  std::vector<CrewTask> tasks(2);
  tasks[0].minutes = tasks[1].minutes = 2;
  tasks[0].tool = ToolKind::kVac;
  const CrewPlan plan = plan_crew(shop, crew, tasks, quick());
  CHECK(plan.timetable.left_out == std::vector<Index>{0});
  CHECK(!plan.proven);
}

TEST_CASE("unpleasant duties of equal length are shared out") {
  const Shop shop = tool_shop(0, 0);
  const Crew crew = crew_of(shop, 2);
  std::vector<CrewTask> tasks(4);
  for (size_t i = 0; i < tasks.size(); ++i) {
    tasks[i].minutes = 4;
    tasks[i].at = shop.start;
    tasks[i].unpleasant = i < 2;
  }
  const CrewPlan plan = plan_crew(shop, crew, tasks, quick(500));
  CHECK(plan.timetable.minutes == doctest::Approx(8));
  CHECK(plan.timetable.unfair_minutes == doctest::Approx(0));
}
