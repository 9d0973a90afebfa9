#pragma once

#include <span>

#include "core/crew/project.h"

/// Parallel schedule generation, also called list scheduling: minute by minute at which something
/// ends, every task that may start and finds its demand free starts, the first of the list first.
///
/// Nothing that could run ever waits, which is how a crew works that takes the next thing from a
/// list. The shortest timetable may need somebody to wait and so be out of reach; more people,
/// shorter tasks or fewer predecessors may even lengthen the day (Graham's anomalies).
/// Source: Kelley (1963), Bedworth and Bailey (1982); Graham (1966, 1969) for machines.
namespace chipfall {

/// `list` has each task once, in any order.
Timetable parallel_forward(const Project& project, std::span<const int> list);

}  // namespace chipfall
