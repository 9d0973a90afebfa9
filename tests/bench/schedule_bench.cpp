#include <benchmark/benchmark.h>

#include "core/crew/solve.h"
#include "tests/tools/random_project.h"
#include "tests/tools/study.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

/// 96 projects of 30 jobs, from easy to hard, each with the default budget. Time is of all 96.
void solve_thirty_jobs(benchmark::State& state) {
  StudyRow sum;
  for (auto _ : state) sum = sum_of(study({}));
  state.counters["instances"] = sum.instances;
  state.counters["proven"] = sum.proven;
  state.counters["proven_in_1_s"] = sum.proven_in_a_second;
  state.counters["worst_s"] = sum.worst_seconds;
  state.counters["above_bound_%"] = 100 * sum.above_bound;
  state.counters["longest_first_%"] = 100 * sum.longest_first_above_bound;
}
BENCHMARK(solve_thirty_jobs)->Unit(benchmark::kSecond)->Iterations(1);

/// Rules and improvement alone, of a project of so many tasks that is short of everything.
void improve_timetables(benchmark::State& state) {
  RandomProject settings;
  settings.tasks = static_cast<int>(state.range(0));
  settings.resource_factor = 1;
  settings.resource_strength = 0.2;
  const Project project = random_project(settings);
  Solved solved;
  for (auto _ : state) solved = solve(project, {1000, 0, 1});
  state.counters["above_bound_%"] = 100 * (solved.timetable.minutes / solved.lower_bound - 1);
  state.counters["per_evaluation"] = benchmark::Counter(
      static_cast<double>(solved.evaluations),
      benchmark::Counter::kIsIterationInvariantRate | benchmark::Counter::kInvert);
}
BENCHMARK(improve_timetables)->Arg(30)->Arg(60)->Arg(120)->Unit(benchmark::kMillisecond);

}  // namespace
