#pragma once

#include <array>
#include <vector>

#include "core/crew/timetable.h"

/// A lower bound of what all lanes of a crew together walk, fetch and take home.
///
/// A lane is a path: from where somebody stands, past the tasks that they do, to the hooks of the
/// tools that they take home. Every task has as many arrivals as it has people, each from one
/// place, and every place is left at most once by each who came there. What an arrival costs at
/// least is what timetable.cpp counts for it: the way on foot where no tool is needed or one of the
/// kind is in hand, which it is only after a task that was done with it; otherwise the way past
/// some place where such a tool may stand by then, and the fetching. Tasks are laid down in an
/// order that keeps `after`, so nobody comes to a task from one that must follow it, nor finds a
/// tool there.
///
/// The first fetching of a tool and its way home are stops of their own that some lane must make.
/// They are added only as often as tools are certainly used, and the way home only where no task
/// with such a tool lies at its hook.
///
/// Paths like these are trees in which everything has one way in and one way out. Without the
/// latter, the cheapest is an arborescence; each way out too many is then charged for, which brings
/// the charges up to where trees resemble paths. Whatever the charges, less the charges themselves
/// the tree costs no more than the lanes do. Source: Held and Karp (1970, 1971); steps of the
/// charges: Volgenant and Jonker (1982).
namespace chipfall {

/// What a timetable cannot do without.
struct LaneNeeds {
  std::array<int, kToolKinds> tools{};  ///< by kind: used for tasks not yet under way; 0: by hand
  std::vector<char> leaves;             ///< by person: certainly comes to some task
  bool operator==(const LaneNeeds&) const = default;
};

/// Minutes of all lanes together, besides those of the tasks. Tasks under way are where their
/// people begin. Deterministic; effort grows with the square of the tasks.
double least_walking_minutes(const CrewProblem& problem, const LaneNeeds& needs);

}  // namespace chipfall
