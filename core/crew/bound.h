#pragma once

#include <vector>

#include "core/crew/project.h"

/// Minutes that no timetable can undercut.
///
/// All bounds hold for durations of any real size, zero included. They are sums in floating point
/// and may lie above the true bound by rounding, 1e-12 of it; who compares leaves room for that.
/// Source: critical sequence and work: Stinson, Davis, Khumawala (1978), Mingozzi, Maniezzo,
/// Ricciardelli, Bianco (1998); destructive improvement and heads: Klein and Scholl (1999).
namespace chipfall {

/// Two lengths are the same when they differ by this share: sums of some hundred numbers in any
/// order differ by 1e-14, and nobody plans a day to 1e-9 of it.
inline constexpr double kSameMinutes = 1e-9;

/// The longest chain of tasks, as if resources were plenty.
double critical_path_minutes(const Project& project);

/// The most that any resource has to do, divided by its capacity.
double resource_work_minutes(const Project& project);

/// Minutes from the start of each task to the end of the project, at least: itself and whichever
/// takes longest of what must follow: the chain, the work of each resource, tasks that pairwise
/// exclude each other; each with the least that follows it in turn. Never below minutes_to_end.
std::vector<double> strong_minutes_to_end(const Project& project);

/// The same before the start of each task.
std::vector<double> strong_minutes_before(const Project& project);

/// Every duration is a whole multiple of it, so a shortest timetable is one too, being as long as
/// some chain of tasks. 0 where there is none worth knowing, below a millionth of the longest task.
double step_minutes(const Project& project);

/// The best of the above for the whole project.
double simple_bound_minutes(const Project& project);

/// Never below simple_bound_minutes and never above `known`, the length of some timetable: the
/// greatest length that windows.h refutes, found by bisection between the two, up to the next step
/// or to 1e-4 of `known`. It is `known` itself where anything shorter than that is refuted.
double lower_bound_minutes(const Project& project, double known);

}  // namespace chipfall
