#pragma once

#include "core/crew/crew.h"
#include "core/crew/project.h"

/// How soon a crew could be done at best, whoever does what: what a plan is measured against.
namespace chipfall {

/// No timetable of timetable.h that leaves nothing out ends sooner: not before the longest chain of
/// tasks; nor before the schedule without walking; nor before each kind of tool has done its work
/// and been carried between it; nor before all people together have done all work and the least
/// walking, fetching and taking home that any lanes can do with (least_walking.h).
///
/// That walking depends on how many must share the work and on how many tools of each kind must, so
/// on the minutes at hand: fewer people and tools walk less and take longer. The bound is the first
/// minute at which everything that is then needed fits.
double crew_lower_bound(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& tasks);

/// The same work as a plain project: people, kinds of tools and zones as resources, nobody walks.
/// Tasks whose tool nobody has ask for none.
Project without_walking(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& tasks);

}  // namespace chipfall
