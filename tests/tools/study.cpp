#include "tests/tools/study.h"

#include <algorithm>
#include <chrono>

#include "core/crew/priority.h"
#include "core/crew/serial.h"
#include "tests/tools/random_project.h"

namespace chipfall::test {
namespace {

double over(double minutes, double bound) { return bound > 0 ? minutes / bound - 1 : 0; }

void add_instance(const Project& project, const SolveLimits& limits, StudyRow& row) {
  const auto start = std::chrono::steady_clock::now();
  const Solved solved = solve(project, limits);
  const double seconds =
      std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  ++row.instances;
  if (solved.proven) ++row.proven;
  if (solved.proven && seconds < 1) ++row.proven_in_a_second;
  row.seconds += seconds;
  row.worst_seconds = std::max(row.worst_seconds, seconds);
  row.above_bound += over(solved.timetable.minutes, solved.lower_bound);
  const Timetable plain = serial_forward(project, list_by(project, Rule::kLongestFirst));
  row.longest_first_above_bound += over(plain.minutes, solved.lower_bound);
}

}  // namespace

std::vector<StudyRow> study(const Study& settings) {
  std::vector<StudyRow> rows;
  RandomProject random;
  random.tasks = settings.tasks;
  random.seed = settings.seed * 100000;
  for (const double strength : {0.2, 0.5, 0.7, 1.0}) {
    StudyRow row;
    row.resource_strength = random.resource_strength = strength;
    for (const double complexity : {1.5, 1.8, 2.1}) {
      for (const double factor : {0.25, 0.5, 0.75, 1.0}) {
        random.network_complexity = complexity;
        random.resource_factor = factor;
        for (int i = 0; i < settings.in_each_cell; ++i) {
          ++random.seed;
          add_instance(random_project(random), settings.limits, row);
        }
      }
    }
    row.above_bound /= row.instances;
    row.longest_first_above_bound /= row.instances;
    rows.push_back(row);
  }
  return rows;
}

StudyRow sum_of(const std::vector<StudyRow>& rows) {
  StudyRow sum;
  for (const StudyRow& row : rows) {
    sum.instances += row.instances;
    sum.proven += row.proven;
    sum.proven_in_a_second += row.proven_in_a_second;
    sum.seconds += row.seconds;
    sum.worst_seconds = std::max(sum.worst_seconds, row.worst_seconds);
    sum.above_bound += row.above_bound * row.instances;
    sum.longest_first_above_bound += row.longest_first_above_bound * row.instances;
  }
  sum.above_bound /= std::max(1, sum.instances);
  sum.longest_first_above_bound /= std::max(1, sum.instances);
  return sum;
}

}  // namespace chipfall::test
