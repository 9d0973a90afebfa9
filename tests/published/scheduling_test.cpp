#include <doctest/doctest.h>

#include <algorithm>
#include <string>
#include <vector>

#include "core/crew/parallel.h"
#include "core/crew/priority.h"
#include "core/crew/serial.h"
#include "core/crew/solve.h"
#include "tests/tools/instance_text.h"

namespace chipfall {
namespace {

/// Jobs that each take one of so many machines.
Project on_machines(int machines, const std::vector<double>& minutes) {
  Project project;
  project.capacity = {machines};
  for (const double m : minutes) project.tasks.push_back({m, {1}, {}});
  return project;
}

double in_given_order(const Project& project) {
  std::vector<int> list;
  for (size_t i = 0; i < project.tasks.size(); ++i) list.push_back(static_cast<int>(i));
  return parallel_forward(project, list).minutes;
}

double longest_first(const Project& project) {
  return serial_forward(project, list_by(project, Rule::kLongestFirst)).minutes;
}

// Textbook example of list scheduling (read): 4, 5, 6, 7, 8 in that order
TEST_CASE("list scheduling takes five jobs 18 minutes on two machines and 13 on three") {
  CHECK(in_given_order(on_machines(2, {4, 5, 6, 7, 8})) == 18);
  CHECK(in_given_order(on_machines(3, {4, 5, 6, 7, 8})) == 13);
}

// (computed); tight cases of Graham, SIAM J. Appl. Math. 17 (1969): 4/3 - 1/(3m)
TEST_CASE("longest first is worst by the published factor, and the solver is not") {
  const Project two = on_machines(2, {3, 3, 2, 2, 2});
  CHECK(longest_first(two) == 7);
  const Project three = on_machines(3, {5, 5, 4, 4, 3, 3, 3});
  CHECK(longest_first(three) == 11);
  for (const auto& [project, shortest] : {std::pair{two, 6.0}, std::pair{three, 9.0}}) {
    const Solved solved = solve(project);
    CHECK(solved.proven);
    CHECK(solved.timetable.minutes == shortest);
    const double machines = project.capacity[0];
    CHECK(longest_first(project) / shortest ==
          doctest::Approx(4.0 / 3 - 1 / (3 * machines)).epsilon(1e-12));
  }
}

// Graham (1969), bound of longest first against the shortest, which list scheduling may not reach
TEST_CASE("longest first stays within 4/3 - 1/(3m) of the shortest") {
  for (int machines = 2; machines <= 4; ++machines) {
    for (int shape = 0; shape < 40; ++shape) {
      CAPTURE(machines);
      CAPTURE(shape);
      std::vector<double> minutes;
      for (int i = 0; i < 4 + shape % 7; ++i) minutes.push_back(1 + (shape * 7 + i * i * 5) % 11);
      const Project project = on_machines(machines, minutes);
      const Solved solved = solve(project);
      REQUIRE(solved.proven);
      CHECK(longest_first(project) <=
            solved.timetable.minutes * (4.0 / 3 - 1.0 / (3 * machines)) + 1e-9);
    }
  }
}

/// Jobs 1 to 9 of Graham's anomaly: 9 after 1, and 5, 6, 7, 8 after 4.
Project anomaly(int machines) {
  Project project = on_machines(machines, {3, 2, 2, 2, 4, 4, 4, 4, 9});
  project.tasks[8].after = {0};
  for (int job = 4; job < 8; ++job) project.tasks[job].after = {3};
  return project;
}

// Graham, SIAM J. Appl. Math. 17 (1969), by way of a text that prints these lengths (read)
TEST_CASE(
    "in the given order another machine, shorter jobs or fewer constraints lengthen the day") {
  CHECK(in_given_order(anomaly(3)) == 12);
  CHECK(in_given_order(anomaly(4)) == 15);
  Project shorter = anomaly(3);
  for (Task& task : shorter.tasks) task.minutes -= 1;
  CHECK(in_given_order(shorter) == 13);
  Project looser = anomaly(3);
  looser.tasks[4].after = {};
  looser.tasks[5].after = {};
  CHECK(in_given_order(looser) == 16);
}

// (computed) Relaxing a project cannot lengthen its shortest timetable
TEST_CASE("the solver is free of Graham's anomaly") {
  const Solved three = solve(anomaly(3));
  const Solved four = solve(anomaly(4));
  CHECK(three.proven);
  CHECK(four.proven);
  CHECK(three.timetable.minutes == 12);
  CHECK(four.timetable.minutes <= 12);
}

const std::string kPat1 =
    "14 3\n"
    "2 1 2\n"
    "0 0 0 0 3 2 3 4\n"
    "6 1 0 0 2 9 10\n"
    "4 0 0 0 3 5 6 7\n"
    "3 0 0 0 2 8 11\n"
    "1 0 0 0 1 10\n"
    "6 1 0 1 1 12\n"
    "2 1 0 0 2 8 11\n"
    "1 0 0 0 1 13\n"
    "4 0 1 1 1 14\n"
    "3 0 0 1 1 12\n"
    "2 0 0 1 1 12\n"
    "3 0 1 0 1 13\n"
    "5 0 0 0 1 14\n"
    "0 0 0 0 0\n";

const std::string kPat2 =
    "7 3\n"
    "5 5 3\n"
    "0 0 0 0 2 2 3\n"
    "1 2 2 1 2 4 5\n"
    "2 0 2 1 1 6\n"
    "2 3 3 3 1 7\n"
    "3 2 1 3 1 6\n"
    "2 1 1 0 1 7\n"
    "0 0 0 0 0\n";

// Patterson's set, Management Science 30 (1984): instances and optima as reprinted (read)
TEST_CASE("pat1 takes 19 and pat2 takes 7, proven") {
  const auto solved = [](const std::string& text) {
    const Result<Project> project = test::read_instance(text, "pat");
    REQUIRE(project);
    return solve(*project);
  };
  CHECK(solved(kPat1).proven);
  CHECK(solved(kPat1).timetable.minutes == 19);
  CHECK(solved(kPat2).proven);
  CHECK(solved(kPat2).timetable.minutes == 7);
}

}  // namespace
}  // namespace chipfall
