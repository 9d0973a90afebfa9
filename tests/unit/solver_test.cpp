#include "core/crew/solve.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <numeric>

#include "core/crew/bound.h"
#include "core/crew/exact.h"
#include "core/crew/improve.h"
#include "core/crew/parallel.h"
#include "core/crew/priority.h"
#include "core/crew/serial.h"
#include "small_project.h"
#include "tests/tools/random_project.h"
#include "timetable_check.h"

namespace chipfall {
namespace {

using test::EveryOrder;
using test::fault_of;
using test::random_project;
using test::RandomProject;
using test::small_project;

/// Sums of the same minutes in another order.
doctest::Approx same(double minutes) { return doctest::Approx(minutes).epsilon(1e-9); }

/// Of the 30-job kind, from easy to hard.
Project thirty_jobs(unsigned seed, double factor, double strength) {
  RandomProject settings;
  settings.network_complexity = 1.5 + 0.3 * (seed % 3);
  settings.resource_factor = factor;
  settings.resource_strength = strength;
  settings.seed = seed;
  return random_project(settings);
}

Timetable longest_first(const Project& project) {
  return serial_forward(project, list_by(project, Rule::kLongestFirst));
}

TEST_CASE("the solver finds what trying every order finds, and proves it") {
  for (unsigned seed = 0; seed < 1000; ++seed) {
    CAPTURE(seed);
    const Project project = small_project(seed, 5 + static_cast<int>(seed % 3));
    REQUIRE(mistake_of(project).empty());
    const Solved solved = solve(project);
    CHECK(solved.timetable.minutes == same(EveryOrder(project).minutes()));
    CHECK(solved.proven);
    CHECK(solved.lower_bound == solved.timetable.minutes);
    CHECK(fault_of(project, solved.timetable) == "");
  }
}

TEST_CASE("the exact search needs neither a good start nor a bound to find the same") {
  for (unsigned seed = 0; seed < 1000; ++seed) {
    CAPTURE(seed);
    const Project project = small_project(seed, 5 + static_cast<int>(seed % 3));
    std::vector<int> list = precedence_order(project);
    Timetable one_by_one{std::vector<double>(list.size()), 0};
    for (const int task : list) {
      one_by_one.start[task] = one_by_one.minutes;
      one_by_one.minutes += project.tasks[task].minutes;
    }
    const Exact exact = search_exactly(project, one_by_one, {0, 100000});
    CHECK(exact.exhausted);
    CHECK(exact.timetable.minutes == same(EveryOrder(project).minutes()));
    CHECK(fault_of(project, exact.timetable) == "");
  }
}

TEST_CASE("no bound lies above the shortest timetable") {
  for (unsigned seed = 1000; seed < 2000; ++seed) {
    CAPTURE(seed);
    const Project project = small_project(seed, 5 + static_cast<int>(seed % 3));
    const double shortest = EveryOrder(project).minutes() * (1 + 1e-9);
    CHECK(critical_path_minutes(project) <= shortest);
    CHECK(resource_work_minutes(project) <= shortest);
    CHECK(simple_bound_minutes(project) <= shortest);
    CHECK(lower_bound_minutes(project, shortest * 2) <= shortest);
    CHECK(lower_bound_minutes(project, longest_first(project).minutes) <= shortest);
    CHECK(simple_bound_minutes(project) >= critical_path_minutes(project) * (1 - 1e-9));
    CHECK(simple_bound_minutes(project) >= resource_work_minutes(project) * (1 - 1e-9));
  }
}

TEST_CASE("every timetable of every rule, scheme and improvement can be kept") {
  for (unsigned seed = 0; seed < 200; ++seed) {
    CAPTURE(seed);
    const Project project = seed % 2 == 0 ? small_project(seed, 12) : thirty_jobs(seed, 0.75, 0.2);
    std::vector<Timetable> made;
    for (const Rule rule : kAllRules) {
      const std::vector<int> list = list_by(project, rule);
      made.push_back(serial_forward(project, list));
      made.push_back(serial_backward(project, list));
      made.push_back(parallel_forward(project, list));
      const double before = made.front().minutes;
      made.push_back(Justification(project).justify(made.front()));
      CHECK(made.back().minutes <= before * (1 + 1e-12));
    }
    made.push_back(improve(project, made, {300, 0, seed}).timetable);
    for (const Timetable& timetable : made) {
      CHECK(made.back().minutes <= timetable.minutes);
      REQUIRE(fault_of(project, timetable) == "");
    }
  }
}

TEST_CASE("nothing is shorter than the bound, and proven means equal to it, whatever the budget") {
  for (unsigned seed = 0; seed < 60; ++seed) {
    CAPTURE(seed);
    const Project project = thirty_jobs(seed, 0.25 * (1 + seed % 4), 0.2);
    for (const long budget : {0L, 1L, 50L, 1000L}) {
      const Solved solved = solve(project, {budget, budget, 1});
      CHECK(fault_of(project, solved.timetable) == "");
      CHECK(solved.lower_bound <= solved.timetable.minutes);
      CHECK(solved.lower_bound >= critical_path_minutes(project));
      CHECK(solved.evaluations <= std::max(1L, budget));
      CHECK(solved.nodes <= budget);
      if (solved.proven) CHECK(solved.lower_bound == solved.timetable.minutes);
    }
  }
}

TEST_CASE("thirty jobs are solved and proven, one of each setting") {
  int hard = 0;
  for (const double factor : {0.25, 0.5, 0.75, 1.0}) {
    for (const double strength : {0.2, 0.5, 0.7, 1.0}) {
      CAPTURE(factor);
      CAPTURE(strength);
      const Project project = thirty_jobs(3, factor, strength);
      const Solved solved = solve(project, {500, 100000, 1});
      CHECK(solved.proven);
      CHECK(fault_of(project, solved.timetable) == "");
      if (solved.nodes > 0) ++hard;
    }
  }
  CHECK(hard > 0);  // the exact search was needed
}

TEST_CASE("a proven length stays the same with time reversed and with tasks in another order") {
  int compared = 0;
  for (unsigned seed = 0; seed < 40; ++seed) {
    CAPTURE(seed);
    Project project = thirty_jobs(seed, 0.5, 0.3);
    test::Dice dice(seed);
    if (seed % 2 == 1) {
      for (Task& task : project.tasks) task.minutes += dice.between(0, 1);
    }
    const int count = static_cast<int>(project.tasks.size());
    Project turned;
    turned.capacity = project.capacity;
    for (int i = count - 1; i >= 0; --i) {
      turned.tasks.push_back(project.tasks[i]);
      for (int& before : turned.tasks.back().after) before = count - 1 - before;
    }
    const SolveLimits limits{50, 50000, 1};  // little improvement, so that the exact search works
    const Solved one = solve(project, limits);
    for (const Project& other : {reversed(project), turned}) {
      const Solved again = solve(other, limits);
      if (!one.proven || !again.proven) continue;
      CHECK(again.timetable.minutes == same(one.timetable.minutes));
      ++compared;
    }
  }
  CHECK(compared >= 60);  // of 80; the others ran out of nodes
}

TEST_CASE("the same project, limits and seed give the same timetable to the last bit") {
  const Project project = thirty_jobs(5, 1, 0.2);
  for (const unsigned long long seed : {1ULL, 2ULL}) {
    const Solved one = solve(project, {800, 2000, seed});
    const Solved again = solve(project, {800, 2000, seed});
    CHECK(one.timetable.start == again.timetable.start);
    CHECK(one.lower_bound == again.lower_bound);
    CHECK(one.evaluations == again.evaluations);
    CHECK(one.nodes == again.nodes);
  }
}

TEST_CASE("more evaluations never lengthen the improved timetable") {
  for (unsigned seed = 0; seed < 10; ++seed) {
    const Project project = thirty_jobs(seed, 1, 0.2);
    const std::vector<Timetable> first{longest_first(project)};
    double before = first[0].minutes;
    for (const long evaluations : {3L, 30L, 300L, 3000L}) {
      const double after = improve(project, first, {evaluations, 0, 1}).timetable.minutes;
      CHECK(after <= before);
      before = after;
    }
    CHECK(before < first[0].minutes);
  }
}

TEST_CASE("a task of no minutes waits for its predecessors and holds nothing") {
  Project project;
  project.capacity = {1};
  project.tasks = {{3, {1}, {}}, {0, {1}, {}}, {0, {1}, {0}}, {2, {1}, {2}}};
  const Solved solved = solve(project);
  CHECK(solved.proven);
  CHECK(solved.timetable.minutes == 5);
  CHECK(solved.timetable.start == std::vector<double>{0, 0, 3, 3});
}

TEST_CASE("tasks that demand nothing are as long as their longest chain") {
  Project project;
  project.capacity = {1};
  project.tasks = {{3, {0}, {}}, {4, {0}, {}}, {2.5, {0}, {0}}, {9, {1}, {}}};
  CHECK(solve(project).timetable.minutes == 9);
  project.capacity = {};
  for (Task& task : project.tasks) task.demand = {};
  const Solved solved = solve(project);
  CHECK(solved.proven);
  CHECK(solved.timetable.minutes == 9);
}

TEST_CASE("a project without tasks takes no time") {
  const Solved solved = solve({{}, {2, 1}});
  CHECK(solved.proven);
  CHECK(solved.timetable.minutes == 0);
  CHECK(solved.timetable.start.empty());
}

TEST_CASE("tasks that all last no time are over at once") {
  Project project;
  project.capacity = {1};
  for (int i = 0; i < 6; ++i) project.tasks.push_back({0, {1}, {}});
  project.tasks[3].after = {5};
  const Solved solved = solve(project);
  CHECK(solved.proven);
  CHECK(solved.timetable.minutes == 0);
}

TEST_CASE("thirds and tenths of minutes neither overlap nor leave gaps") {
  Project project;
  project.capacity = {1};
  for (int i = 0; i < 10; ++i) project.tasks.push_back({i % 2 == 0 ? 0.1 : 1.0 / 3, {1}, {}});
  const Solved solved = solve(project);
  CHECK(solved.proven);
  CHECK(solved.timetable.minutes == same(0.5 + 5.0 / 3));
  CHECK(fault_of(project, solved.timetable) == "");
}

TEST_CASE("more tasks than the exact search takes still get a timetable and a bound") {
  RandomProject settings;
  settings.tasks = 100;
  settings.resource_strength = 0.2;
  const Project project = random_project(settings);
  const Solved solved = solve(project, {300, 1000, 1});
  CHECK(fault_of(project, solved.timetable) == "");
  CHECK(solved.lower_bound >= critical_path_minutes(project));
  CHECK(solved.nodes == 0);
}

TEST_CASE("sixty-four tasks fit into the exact search") {
  Project project;
  project.capacity = {3};
  for (int i = 0; i < 64; ++i) project.tasks.push_back({1.0 + i % 4, {1 + i % 2}, {}});
  for (int i = 32; i < 64; ++i) project.tasks[i].after = {i - 32};
  const Solved solved = solve(project, {1, 5000, 1});
  CHECK(fault_of(project, solved.timetable) == "");
  CHECK(solved.lower_bound <= solved.timetable.minutes);
}

TEST_CASE("a project with a mistake is refused with the task in question") {
  const Project good{{{1, {1}, {}}, {2, {2}, {0}}}, {2}};
  CHECK(mistake_of(good).empty());
  const auto broken = [&](auto edit) {
    Project project = good;
    edit(project);
    CHECK(solve(project).timetable.start.empty());
    CHECK_FALSE(solve(project).proven);
    return mistake_of(project);
  };
  const double nan = std::numeric_limits<double>::quiet_NaN();
  using P = Project;
  CHECK(broken([](P& p) { p.tasks[1].demand = {3}; }) ==
        "task 1: it demands 3 of resource 0, and there are only 2");
  CHECK(broken([](P& p) { p.tasks[1].demand = {-1}; }).starts_with("task 1: its demand"));
  CHECK(broken([](P& p) { p.tasks[0].demand = {}; }).starts_with("task 0: 0 demands"));
  CHECK(broken([](P& p) { p.tasks[0].minutes = -1; }).starts_with("task 0: it takes -1 minutes"));
  CHECK(broken([&](P& p) { p.tasks[0].minutes = nan; }).starts_with("task 0: it takes nan"));
  CHECK(broken([](P& p) { p.tasks[0].minutes = INFINITY; }).starts_with("task 0: it takes inf"));
  CHECK(broken([](P& p) { p.tasks[1].after = {2}; }).starts_with("task 1: it comes after task 2"));
  CHECK(broken([](P& p) { p.tasks[1].after = {-1}; }).starts_with("task 1: it comes after"));
  CHECK(broken([](P& p) { p.tasks[0].after = {1}; }).starts_with("task 0: it waits for itself"));
  CHECK(broken([](P& p) { p.tasks[0].minutes = 1e300; }).starts_with("task 0: it takes 1e+300"));
  CHECK(broken([](P& p) { p.capacity = {2000000}; }).starts_with("resource 0: its capacity is 2"));
  CHECK(broken([](P& p) { p.capacity = {-1}; }).starts_with("resource 0: its capacity is -1"));
}

TEST_CASE("the checker finds what is wrong with a timetable") {
  const Project project{{{1, {1}, {}}, {2, {2}, {0}}, {2, {1}, {}}}, {2}};
  CHECK(fault_of(project, {{0, 2, 0}, 4}) == "");
  CHECK(fault_of(project, {{0, 1, 0}, 3}).find("resource 0") != std::string::npos);
  CHECK(fault_of(project, {{0, 0.5, 3}, 5}).find("before task 0 ends") != std::string::npos);
  CHECK(fault_of(project, {{0, 2, 0}, 5}).starts_with("said to end"));
  CHECK(fault_of(project, {{-1, 2, 0}, 4}).starts_with("task 0 runs from -1"));
  CHECK(fault_of(project, {{0, 2}, 4}) == "not one start for each task");
}

TEST_CASE("the step of a project divides all its durations") {
  const auto step = [](std::vector<double> minutes) {
    Project project;
    for (const double m : minutes) project.tasks.push_back({m, {}, {}});
    return step_minutes(project);
  };
  CHECK(step({4, 6, 10}) == 2);
  CHECK(step({1.5, 2.25}) == 0.75);
  CHECK(step({5, 0, 5}) == 5);
  CHECK(step({M_PI, M_E}) == 0);
  CHECK(step({}) == 0);
}

}  // namespace
}  // namespace chipfall
