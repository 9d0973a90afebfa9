#pragma once

#include <span>

#include "core/crew/project.h"

/// Shorter timetables from short ones, within a budget.
///
/// A genetic search over activity lists, in which every list is judged by its serial timetable
/// after double justification (serial.h). The first lists are the ones given and random ones that
/// lean towards the longest chain; a child takes the ends of its list from one parent and the
/// middle, in the other's order, from the other. Whatever is already there is not kept twice; after
/// a long stretch without gain, all but the best start anew. Source: Hartmann (1998) for lists and
/// crossover, Valls, Ballestin, Quintanilla (2005, 2008) for the justification; population and
/// rates are our own choice.
namespace chipfall {

struct ImproveLimits {
  long evaluations = 0;       ///< timetables generated; a child costs three
  double enough_minutes = 0;  ///< stop at a timetable of this length or less
  unsigned long long seed = 1;
};

struct Improved {
  Timetable timetable;
  long evaluations = 0;
};

/// The best found; never longer than the best of `first`, which has at least one timetable.
Improved improve(const Project& project, std::span<const Timetable> first,
                 const ImproveLimits& limits);

}  // namespace chipfall
