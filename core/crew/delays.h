#pragma once

#include <vector>

#include "core/crew/partial.h"

namespace chipfall {

/// One way to make room at a decision point.
struct Delay {
  TaskSet tasks = 0;
  double bound = 0;  ///< no completion ends sooner
  double tails = 0;  ///< of the delayed tasks together; of equal bounds, the lesser is tried first
};

/// Every smallest set of running tasks without which the others have room, and which can still lead
/// to something shorter than `below`, best bound first. Each choice to take or leave a task costs a
/// step; when `steps` are used up it stops with what it has.
std::vector<Delay> delays_of(const Remaining& tasks, const PartialTimetable& at, double below,
                             long& steps);

}  // namespace chipfall
