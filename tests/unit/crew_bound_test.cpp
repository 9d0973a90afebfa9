#include "core/crew/crew_bound.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include <doctest/doctest.h>

#include "core/crew/arborescence.h"
#include "core/crew/cost.h"
#include "core/crew/exact_crew.h"
#include "core/crew/plan.h"
#include "core/crew/refine.h"
#include "core/crew/tally.h"
#include "tests/unit/random_crew.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

/// A crew somewhere in its evening: people who join late, tools in hand and standing about, broken
/// ones, duties under way, tasks at the hooks and tasks that wait.
struct Case {
  Shop shop;
  Crew crew;
  std::vector<CrewTask> tasks;
};

Case random_case(Dice& dice, int most_tasks, int most_people = 5) {
  Case made;
  const int brooms = 1 + dice.upto(1), vacs = 1 + dice.upto(1);
  made.shop = tool_shop(vacs, brooms);
  made.crew = crew_of(made.shop, 1 + dice.upto(most_people - 1));
  made.tasks = random_tasks(dice, 3 + dice.upto(most_tasks - 3));
  const int people = static_cast<int>(made.crew.people.size());
  for (CrewTask& task : made.tasks) {
    task.people = std::min(task.people, people);
    if (dice.upto(9) == 0) task.not_before = dice.between(0, 8);
    if (dice.upto(14) == 0) task.at = made.shop.tools[dice.upto(1)].hangs_at;
  }
  const auto tools = static_cast<int>(made.shop.tools.size());
  for (Person& person : made.crew.people) {
    if (dice.upto(3) == 0) person.at = {dice.between(0.5, 13.5), dice.between(0.5, 8.5)};
    if (dice.upto(5) == 0) person.from_minute = dice.between(0, 12);
  }
  if (dice.upto(2) == 0) made.crew.people.front().tool = dice.upto(tools - 1);
  for (Point& at : made.crew.tools_at) {
    if (dice.upto(3) == 0) at = {dice.between(0.5, 13.5), dice.between(0.5, 8.5)};
  }
  const int broken = dice.upto(2 * tools);
  int same_kind = 0;
  for (const CleaningTool& tool : made.shop.tools) {
    same_kind += broken < tools && tool.kind == made.shop.tools[broken].kind;
  }
  if (same_kind > 1) made.crew.usable[broken] = false;
  if (dice.upto(2) == 0) {
    UnderWay now{dice.upto(static_cast<int>(made.tasks.size()) - 1), {people - 1}, kNone, 0};
    now.left_minutes = dice.between(0, 6);
    const std::optional<ToolKind> kind = made.tasks[now.duty].tool;
    for (int t = 0; t < tools && kind; ++t) {
      if (made.shop.tools[t].kind == *kind && made.crew.usable[t]) now.tool = t;
    }
    made.tasks[now.duty].people = 1;
    made.crew.under_way.push_back(std::move(now));
  }
  return made;
}

/// Random orders given to whoever is free first, and random people and tools on top.
double least_of_many(const Case& made, Dice& dice, int tries) {
  const CrewProblem problem(made.shop, made.crew, made.tasks);
  OrderMover mover(made.tasks, 1 + static_cast<unsigned>(dice.upto(1000)));
  std::vector<Index> order(made.tasks.size());
  std::iota(order.begin(), order.end(), 0);
  double least = HUGE_VAL;
  for (int i = 0; i < tries; ++i) {
    mover.move(order);
    const CrewTimetable timetable = schedule(problem, order);
    if (timetable.left_out.empty()) least = std::min(least, timetable.minutes);
  }
  return least;
}

}  // namespace

TEST_CASE("nothing that a search finds ends before the bound") {
  for (unsigned seed = 0; seed < 500; ++seed) {
    CAPTURE(seed);
    Dice dice(seed);
    const Case made = random_case(dice, 40);
    const double bound = crew_lower_bound(made.shop, made.crew, made.tasks);
    CHECK(least_of_many(made, dice, 15) >= bound - 1e-9);
    PlanLimits limits;
    limits.evaluations = 400;
    limits.exact_up_to = 0;
    const CrewPlan plan = plan_crew(made.shop, made.crew, made.tasks, limits);
    if (plan.timetable.left_out.empty()) CHECK(plan.timetable.minutes >= bound - 1e-9);
  }
}

TEST_CASE("the best of all timetables does not end before the bound") {
  int exhausted = 0;
  for (unsigned seed = 0; seed < 300; ++seed) {
    CAPTURE(seed);
    Dice dice(7000 + seed);
    const Case made = random_case(dice, 5, 3);
    const CrewProblem problem(made.shop, made.crew, made.tasks);
    const double bound = crew_lower_bound(made.shop, made.crew, made.tasks);
    const ExactCrew exact = exact_crew(problem, HUGE_VAL, 30000);
    exhausted += exact.exhausted;
    if (exact.better) CHECK(schedule_as(problem, *exact.better).minutes >= bound - 1e-9);
  }
  CHECK(exhausted > 150);
}

TEST_CASE("one person with one task goes there and no way is forgotten") {
  const Shop shop = tool_shop(1, 0);
  const Crew crew = crew_of(shop, 1);
  std::vector<CrewTask> tasks(1);
  tasks[0].minutes = 3;
  tasks[0].at = {9, 6};
  tasks[0].tool = ToolKind::kVac;
  const double end = schedule(CrewProblem(shop, crew, tasks), {0}).minutes;
  CHECK(crew_lower_bound(shop, crew, tasks) == doctest::Approx(end).epsilon(1e-9));
}

TEST_CASE("of 40 tasks for five, the bound counts more than ways that merely join them") {
  // The spanning tree came to 0.4 minutes a head in these.
  const Shop shop = tool_shop(2, 2);
  const Crew crew = crew_of(shop, 5);
  double walking = 0;
  for (unsigned seed = 0; seed < 10; ++seed) {
    Dice dice(seed);
    const std::vector<CrewTask> tasks = random_tasks(dice, 40);
    double work = 0;
    for (const CrewTask& task : tasks) work += task.people * task.minutes / 5;
    walking += (crew_lower_bound(shop, crew, tasks) - work) / 10;
  }
  CHECK(walking > 0.55);
}

TEST_CASE("the cheapest arborescence is that of trying all") {
  for (unsigned seed = 0; seed < 300; ++seed) {
    CAPTURE(seed);
    Dice dice(seed);
    constexpr int kNodes = 5;
    std::vector<double> cost(kNodes * kNodes);
    for (double& c : cost) c = dice.upto(4) == 0 ? HUGE_VAL : dice.between(-1, 5);
    // By node, the one before it; every choice that comes from the root counts.
    double least = HUGE_VAL;
    for (int choice = 0; choice < 625; ++choice) {
      int before[kNodes] = {0, choice % 5, choice / 5 % 5, choice / 25 % 5, choice / 125};
      double sum = 0;
      for (int node = 1; node < kNodes; ++node) {
        int up = node;
        for (int step = 0; step < kNodes; ++step) up = before[up];
        sum += up == 0 ? cost[static_cast<size_t>(before[node] * kNodes + node)] : HUGE_VAL;
      }
      least = std::min(least, sum);
    }
    Arborescence tree(kNodes);
    const std::vector<int>& before = tree.cheapest(cost);
    CHECK(before.empty() == (least == HUGE_VAL));
    if (before.empty()) continue;
    double sum = 0;
    for (int node = 1; node < kNodes; ++node) {
      int up = node;
      for (int step = 0; step < kNodes; ++step) up = before[static_cast<size_t>(up)];
      CHECK(up == 0);
      sum += cost[static_cast<size_t>(before[static_cast<size_t>(node)] * kNodes + node)];
    }
    CHECK(sum == doctest::Approx(least));
  }
}

TEST_CASE("a line-up costs what its timetable costs") {
  int finite = 0;
  for (unsigned seed = 0; seed < 400; ++seed) {
    CAPTURE(seed);
    Dice dice(3000 + seed);
    const Case made = random_case(dice, 30);
    const CrewProblem problem(made.shop, made.crew, made.tasks);
    std::vector<Index> order(made.tasks.size());
    std::iota(order.begin(), order.end(), 0);
    const CrewTimetable timetable = schedule(problem, order);
    if (!timetable.left_out.empty()) continue;
    Tally tally(problem);
    const Lineup lineup = tally.lineup_of(timetable.assignment);
    CHECK(tally.settle(lineup) == doctest::Approx(cost(timetable)).epsilon(1e-9));
    CHECK(tally.minutes() == doctest::Approx(timetable.minutes).epsilon(1e-9));
    const CrewTimetable again = schedule_as(problem, tally.assignment_of(lineup));
    CHECK(again.minutes == doctest::Approx(timetable.minutes).epsilon(1e-9));
    ++finite;
  }
  CHECK(finite > 300);
}

TEST_CASE(
    "what a line-up costs is the same tried from where it differs, or certain to be too much") {
  int stopped = 0, finite = 0;
  for (unsigned seed = 0; seed < 200; ++seed) {
    CAPTURE(seed);
    Dice dice(4000 + seed);
    Case made = random_case(dice, 40);
    const auto tasks = static_cast<int>(made.tasks.size());
    const auto people = static_cast<int>(made.crew.people.size());
    if (dice.upto(3) == 0) made.tasks[dice.upto(tasks - 1)].frees.push_back(dice.upto(1));
    const CrewProblem problem(made.shop, made.crew, made.tasks);
    std::vector<Index> order(made.tasks.size());
    std::iota(order.begin(), order.end(), 0);
    const CrewTimetable timetable = schedule(problem, order);
    if (!timetable.left_out.empty()) continue;
    Tally tally(problem);
    Tally whole(problem);
    Lineup now = tally.lineup_of(timetable.assignment);
    const auto steps = static_cast<int>(now.order.size());
    double value = tally.settle(now);
    for (int i = 0; i < 50; ++i) {
      CAPTURE(i);
      Lineup next = now;
      const auto from = static_cast<size_t>(dice.upto(steps - 1));
      const Index task = next.order[from];
      const size_t role = tally.first(task);
      if (tally.last(task) - role == 1) next.people[role] = dice.upto(people - 1);
      // The next one too, if it need not wait for this.
      const bool may_swap = from + 1 < next.order.size() &&
                            std::ranges::count(made.tasks[next.order[from + 1]].after, task) == 0;
      if (may_swap) std::swap(next.order[from], next.order[from + 1]);
      const double cost = whole.settle(next);
      const double most = value + dice.between(-0.5, 1);
      const double tried = tally.cost(next, from, most);
      if (cost < HUGE_VAL) ++finite;
      if (tried == HUGE_VAL) {
        stopped += cost < HUGE_VAL;
        CHECK(cost > most - 1e-9);
      } else {
        CHECK(tried == doctest::Approx(cost).epsilon(1e-9));
      }
      if (cost == HUGE_VAL || dice.upto(2) > 0) continue;
      now = next;
      value = tally.settle(now, from);
      CHECK(value == doctest::Approx(cost).epsilon(1e-9));
    }
  }
  CHECK(finite > 1000);
  CHECK(stopped > 100);
}
