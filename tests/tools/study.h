#pragma once

#include <vector>

#include "core/crew/solve.h"

/// How well the solver does on random projects (random_project.h) at the usual settings: network
/// complexity 1.5, 1.8, 2.1; resource factor .25, .5, .75, 1; resource strength .2, .5, .7, 1.
namespace chipfall::test {

struct Study {
  int tasks = 30;
  int in_each_cell = 2;  ///< of the 48 combinations
  unsigned long long seed = 1;
  SolveLimits limits;
};

/// All instances of one resource strength.
struct StudyRow {
  double resource_strength = 0;
  int instances = 0;
  int proven = 0;
  int proven_in_a_second = 0;
  double seconds = 0;  ///< all together
  double worst_seconds = 0;
  double above_bound = 0;                ///< timetable over bound - 1, mean; 0 where proven
  double longest_first_above_bound = 0;  ///< the same of the plain rule
};

/// One row for each resource strength.
std::vector<StudyRow> study(const Study& settings);

/// All rows together, with strength 0.
StudyRow sum_of(const std::vector<StudyRow>& rows);

}  // namespace chipfall::test
