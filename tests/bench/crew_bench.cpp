#include <algorithm>
#include <numeric>

#include <benchmark/benchmark.h>

#include "core/crew/evening.h"
#include "core/crew/solve.h"
#include "tests/bench/many_shops.h"
#include "tests/unit/random_crew.h"

using namespace chipfall;
using namespace chipfall::bench;

namespace {

/// What a phone does after the list: lanes for the crew, and the finish from 256 simulated
/// evenings.
void plan_the_demo_evening(benchmark::State& state) {
  const Case demo = demo_evening();
  const WindDown list = wind_down(demo.shop, overlay_of(demo.shop), demo.state, demo.session);
  Evening evening;
  for (auto _ : state) {
    benchmark::DoNotOptimize(evening = plan_evening(demo.shop, demo.session, list));
  }
  state.counters["duties"] = static_cast<double>(list.duties.size());
  state.counters["minutes"] = evening.timetable.minutes;
  state.counters["bound"] = evening.finish.lower_bound_minutes;
}
BENCHMARK(plan_the_demo_evening)->Unit(benchmark::kMillisecond);

/// 40 duties for 5 people with two vacs and two brooms, all over the hall: how far the plans end
/// above the bound, and how far a plain longest-first list does, over 20 such evenings.
void plan_40_duties_for_5(benchmark::State& state) {
  constexpr int kEvenings = 20;
  const Shop shop = test::tool_shop(2, 2);
  const Crew crew = crew_of(shop, 5);
  std::vector<std::vector<CrewTask>> evenings;
  for (unsigned seed = 0; seed < kEvenings; ++seed) {
    test::Dice dice(seed);
    evenings.push_back(test::random_tasks(dice, 40));
  }
  size_t next = 0;
  for (auto _ : state) {
    benchmark::DoNotOptimize(plan_crew(shop, crew, evenings[next++ % kEvenings]));
  }
  double gap = 0, worst = 0, plain_gap = 0;
  for (const std::vector<CrewTask>& tasks : evenings) {
    const CrewPlan plan = plan_crew(shop, crew, tasks);
    const double over = plan.timetable.minutes / plan.lower_bound_minutes - 1;
    gap += over / kEvenings;
    worst = std::max(worst, over);
    plain_gap += longest_first(shop, crew, tasks).minutes / plan.lower_bound_minutes / kEvenings;
  }
  state.counters["over_bound_%"] = 100 * gap;
  state.counters["worst_%"] = 100 * worst;
  state.counters["longest_first_%"] = 100 * (plain_gap - 1);
}
BENCHMARK(plan_40_duties_for_5)->Unit(benchmark::kMillisecond);

/// The same 20 evenings as plain projects, where nobody walks: the bound is that of the schedule.
void schedule_40_duties_for_5(benchmark::State& state) {
  constexpr int kEvenings = 20;
  const Shop shop = test::tool_shop(2, 2);
  const Crew crew = crew_of(shop, 5);
  std::vector<Project> projects;
  for (unsigned seed = 0; seed < kEvenings; ++seed) {
    test::Dice dice(seed);
    projects.push_back(without_walking(shop, crew, test::random_tasks(dice, 40)));
  }
  const SolveLimits limits{1000, 20000, 1};
  size_t next = 0;
  for (auto _ : state) {
    benchmark::DoNotOptimize(solve(projects[next++ % kEvenings], limits));
  }
  double gap = 0, worst = 0;
  int proven = 0;
  for (const Project& project : projects) {
    const Solved solved = solve(project, limits);
    const double over = solved.timetable.minutes / solved.lower_bound - 1;
    gap += over / kEvenings;
    worst = std::max(worst, over);
    proven += solved.proven;
  }
  state.counters["over_bound_%"] = 100 * gap;
  state.counters["worst_%"] = 100 * worst;
  state.counters["proven_of_20"] = proven;
}
BENCHMARK(schedule_40_duties_for_5)->Unit(benchmark::kMillisecond);

}  // namespace
