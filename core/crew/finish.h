#pragma once

#include <vector>

#include "core/duty/duty.h"

/// How long a crew takes on the clock.
namespace chipfall {

/// Minutes until the last duty ends when `people` take the duties in list order: each goes to
/// whoever is free first, waits for the duties it comes after, for enough people, and for a tool of
/// its kind while all of them are in use. A timetable that can be kept, not the shortest one.
/// `minutes` runs parallel to `duties`. A duty for more people than there are waits for nobody: it
/// takes all of them.
double finish_minutes(const Shop& shop, const std::vector<Duty>& duties,
                      const std::vector<double>& minutes, int people);

}  // namespace chipfall
