#include "core/crew/tally.h"

#include <algorithm>
#include <limits>

#include "core/crew/refine.h"
#include "core/duty/minutes.h"

namespace chipfall {
namespace {

constexpr double kNever = std::numeric_limits<double>::infinity();
constexpr double kSame_minutes = 1e-9;

}  // namespace

Tally::Tally(const CrewProblem& problem) : problem_(problem) {
  const Crew& crew = problem.crew;
  first_.push_back(0);
  for (size_t i = 0; i < problem.tasks.size(); ++i) {
    size_t people = static_cast<size_t>(problem.tasks[i].people);
    for (const UnderWay& now : crew.under_way) {
      if (now.duty == static_cast<Index>(i) && !now.people.empty()) people = now.people.size();
    }
    first_.push_back(first_.back() + people);
  }
  for (size_t p = 0; p < crew.people.size(); ++p) {
    opening_hands_.push_back({problem.person_place(static_cast<Index>(p)),
                              crew.people[p].from_minute, crew.people[p].tool, 0, false});
  }
  for (size_t t = 0; t < problem.shop.tools.size(); ++t) {
    const Index tool = static_cast<Index>(t);
    opening_tools_.push_back({problem.tool_place(tool), 0, kNone, problem.hook_place(tool)});
  }
  for (size_t i = 0; i < problem.tasks.size(); ++i) {
    for (Index tool : problem.tasks[i].frees) {
      opening_tools_[tool].freed_by = static_cast<Index>(i);
    }
  }
}

Lineup Tally::lineup_of(const Assignment& assignment) const {
  Lineup lineup;
  for (Index task : assignment.order) {
    const bool under_way = std::ranges::any_of(problem_.crew.under_way, [&](const UnderWay& now) {
      return now.duty == task && !now.people.empty();
    });
    if (!under_way) lineup.order.push_back(task);
  }
  for (const std::vector<Index>& people : assignment.people) {
    lineup.people.insert(lineup.people.end(), people.begin(), people.end());
  }
  lineup.tool = assignment.tool;
  return lineup;
}

Assignment Tally::assignment_of(const Lineup& lineup) const {
  Assignment assignment;
  assignment.order = lineup.order;
  for (size_t i = 0; i + 1 < first_.size(); ++i) {
    assignment.people.emplace_back(lineup.people.begin() + static_cast<long>(first_[i]),
                                   lineup.people.begin() + static_cast<long>(first_[i + 1]));
  }
  assignment.tool = lineup.tool;
  return assignment;
}

void Tally::open() {
  hands_ = opening_hands_;
  tools_ = opening_tools_;
  ends_.assign(problem_.tasks.size(), kNever);
  zone_free_.assign(problem_.zones(), 0);
  walked_ = waited_ = urgent_ = 0;
  for (const UnderWay& now : problem_.crew.under_way) {
    if (now.people.empty()) continue;
    put_down(now.duty, {now.people.data(), now.people.size()}, now.tool, 0, now.left_minutes);
  }
}

/// When somebody is at the task, with the tool if one is named.
double Tally::arrive(Hand& hand, Index tool, int goal) {
  if (tool == kNone || hand.tool == tool) {
    const double walk = problem_.walk_minutes(hand.at, goal);
    walked_ += walk;
    return hand.free + walk;
  }
  const Tool& fetched = tools_[tool];
  const double to_tool = problem_.walk_minutes(hand.at, fetched.at);
  const double to_task = problem_.walk_minutes(fetched.at, goal);
  walked_ += to_tool + kFetch_minutes + to_task;
  double ready = fetched.free;
  if (fetched.freed_by != kNone) ready = std::max(ready, ends_[fetched.freed_by]);
  return std::max(hand.free + to_tool, ready) + kFetch_minutes + to_task;
}

void Tally::put_down(Index index, std::span<const Index> people, Index tool, double start,
                     double minutes) {
  const double end = start + minutes;
  const CrewTask& task = problem_.tasks[index];
  const int place = problem_.task_place(index);
  if (tool != kNone) {
    for (Hand& hand : hands_) {
      if (hand.tool == tool) hand.tool = kNone;
    }
    tools_[tool].at = place;
    tools_[tool].free = end;
  }
  for (size_t i = 0; i < people.size(); ++i) {
    Hand& hand = hands_[people[i]];
    hand.at = place;
    hand.free = end;
    hand.busy = true;
    hand.tool = i == 0 ? tool : kNone;
    if (task.unpleasant) hand.unpleasant += minutes;
  }
  waited_ += end;
  if (task.urgent) urgent_ += end;
  if (task.zone != kNone) zone_free_[task.zone] = end;
  ends_[index] = end;
}

/// Tools go home with whoever can be there first, as in the timetable.
double Tally::close() {
  for (size_t p = 0; p < hands_.size(); ++p) {
    // Not a number or never: a tool that is freed only later, or somebody who has left.
    const bool stays = hands_[p].free <= problem_.crew.people[p].until_minute + kSame_minutes;
    if (hands_[p].busy && !(stays && hands_[p].free < kNever)) return kNever;
  }
  for (const Tool& tool : tools_) {
    if (tool.free <= 0) continue;
    const double carry = problem_.walk_minutes(tool.at, tool.hook);
    if (carry <= 0) continue;
    Hand* best = nullptr;
    double soonest = kNever;
    for (bool may_have_left : {false, true}) {
      for (size_t p = 0; p < hands_.size() && (best == nullptr || !may_have_left); ++p) {
        const double there = hands_[p].free + problem_.walk_minutes(hands_[p].at, tool.at);
        const double home = std::max(there, tool.free) + carry;
        if (home < soonest && (may_have_left || home <= problem_.crew.people[p].until_minute)) {
          soonest = home;
          best = &hands_[p];
        }
      }
    }
    if (best == nullptr) return kNever;
    walked_ += soonest - best->free;
    best->free = soonest;
    best->at = tool.hook;
    best->busy = true;
  }
  CrewSums sums;
  double most = 0;
  double total = 0;
  for (const Hand& hand : hands_) {
    if (hand.busy) sums.minutes = std::max(sums.minutes, hand.free);
    most = std::max(most, hand.unpleasant);
    total += hand.unpleasant;
  }
  sums.walked_minutes = walked_;
  sums.urgent_minutes = urgent_;
  sums.waited_minutes = waited_ / static_cast<double>(problem_.tasks.size());
  sums.unfair_minutes = most - total / static_cast<double>(hands_.size());
  minutes_ = sums.minutes;
  return cost_of(sums);
}

double Tally::cost(const Lineup& lineup) {
  open();
  for (Index index : lineup.order) {
    const CrewTask& task = problem_.tasks[index];
    double start = task.not_before;
    for (Index before : task.after) {
      if (ends_[before] != kNever) start = std::max(start, ends_[before]);
    }
    if (task.zone != kNone) start = std::max(start, zone_free_[task.zone]);
    const std::span<const Index> people{&lineup.people[first(index)], last(index) - first(index)};
    const int goal = problem_.task_place(index);
    for (size_t i = 0; i < people.size(); ++i) {
      start = std::max(start, arrive(hands_[people[i]], i == 0 ? lineup.tool[index] : kNone, goal));
    }
    put_down(index, people, lineup.tool[index], start, task.minutes);
  }
  return close();
}

}  // namespace chipfall
