#pragma once

#include <string>
#include <string_view>

#include "core/crew/project.h"
#include "core/shop/error.h"

/// Scheduling instances as they are published, in the two common text layouts.
///
/// Patterson: numbers only. Jobs and resources; the capacities; then for each job its duration, its
/// demands, the number of its successors, and these.
/// PSPLIB `.sm` (Kolisch and Sprecher 1997), single mode: counts in `name : number` lines, then the
/// sections PRECEDENCE RELATIONS, REQUESTS/DURATIONS and RESOURCEAVAILABILITIES, in this order,
/// with one line for each job. Any other line is passed over.
///
/// Jobs are numbered from 1 in the text and from 0 in the project; the first and the last are
/// mostly source and sink without duration, and stay as tasks. Durations may have decimals.
namespace chipfall::test {

inline constexpr int kMostJobs = 10000;     ///< the greatest published sets have some 300
inline constexpr int kMostResources = 100;  ///< the same: 4

/// A text that starts with a number is in Patterson's layout. Errors name line and column; `file`
/// stands before them.
Result<Project> read_instance(std::string_view text, const std::string& file);

/// Readable by read_instance; the same project again.
std::string write_patterson(const Project& project);
std::string write_sm(const Project& project);

}  // namespace chipfall::test
