#pragma once

#include <optional>

#include "core/crew/timetable.h"

namespace chipfall {

/// What an exhaustive search for a crew's best timetable came to.
struct ExactCrew {
  std::optional<Assignment> better;  ///< ends sooner than the timetable to beat
  bool exhausted = false;            ///< everything was tried: nothing ends sooner still
};

/// Tries every order of the tasks, every choice of people and every tool, depth first, dropping
/// what cannot end before the best so far. For a handful of tasks: the number of branches grows as
/// n! k^n. `nodes` bounds it. Every timetable in which nobody waits without need comes up, because
/// tasks are laid down in the order of their beginning.
ExactCrew exact_crew(const CrewProblem& problem, double to_beat_minutes, long nodes);

}  // namespace chipfall
