#pragma once

#include "core/crew/project.h"

/// Projects from a seed that are as hard as one wishes.
///
/// Source: Kolisch, Sprecher, Drexl, Characterization and generation of a general class of
/// resource-constrained project scheduling problems, Management Science 41 (1995); the settings of
/// the 30-job set: Kolisch and Sprecher (1997). Written from the description, so instances are like
/// the published ones, not the same.
namespace chipfall::test {

struct RandomProject {
  int tasks = 30;
  int resources = 4;
  int longest_minutes = 10;         ///< durations are whole, from 1
  int most_demand = 10;             ///< demands are whole, from 1
  int most_neighbours = 3;          ///< that start, that end, and before or after any task
  double network_complexity = 1.5;  ///< arcs per task, counting one source and one sink
  double resource_factor = 0.5;     ///< share of a task's demands that are not zero
  double resource_strength = 0.5;   ///< 0: the least capacity that works; 1: never short
  unsigned long long seed = 1;
};

/// The same seed gives the same project everywhere.
Project random_project(const RandomProject& settings);

}  // namespace chipfall::test
