#pragma once

#include <array>
#include <vector>

#include "core/crew/project.h"

/// Priority rules: which task first, judged once before anything is placed.
///
/// Minutes, chains and slack are those of the project without its resources.
/// Source: survey and names Kolisch (1996); greatest rank positional weight: Helgeson and Birnie
/// (1961); longest first: Graham (1969); resource-scheduling: Brand, Meyer, Shaffer (1964), here
/// asked once for each pair and not again at every decision.
namespace chipfall {

enum class Rule {
  kLongestFirst,    ///< most minutes
  kLatestStart,     ///< least latest start: the longest chain still ahead of it, itself included
  kLatestFinish,    ///< least latest end: the longest chain behind it
  kLeastSlack,      ///< least latest start minus earliest start
  kMostSuccessors,  ///< most tasks that wait for it, straight or through others
  kGreatestRank,    ///< most minutes of itself and its immediate successors together
  kGreatestDemand,  ///< most minutes times share of all capacities that it takes
  kResourceScheduling,  ///< least harm to the worst of the tasks that do not fit beside it, if it
                        ///< waits
};

inline constexpr std::array kAllRules = {
    Rule::kLongestFirst,   Rule::kLatestStart,  Rule::kLatestFinish,   Rule::kLeastSlack,
    Rule::kMostSuccessors, Rule::kGreatestRank, Rule::kGreatestDemand, Rule::kResourceScheduling,
};

/// A figure for each task; the least goes first.
std::vector<double> rank_by(const Project& project, Rule rule);

/// All tasks behind their predecessors and otherwise by rank, then by number.
std::vector<int> list_by(const Project& project, Rule rule);

}  // namespace chipfall
