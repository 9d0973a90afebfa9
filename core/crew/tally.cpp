#include "core/crew/tally.h"

#include <algorithm>
#include <limits>

#include "core/crew/cost.h"
#include "core/duty/minutes.h"

namespace chipfall {
namespace {

constexpr double kNever = std::numeric_limits<double>::infinity();
constexpr double kSame_minutes = 1e-9;

}  // namespace

Tally::Tally(const CrewProblem& problem) : problem_(problem) {
  const size_t tools = problem.shop.tools.size();
  freed_by_.assign(tools, kNone);
  for (size_t t = 0; t < tools; ++t) {
    const ToolKind kind = problem.shop.tools[t].kind;
    kinds_.push_back(static_cast<int>(kind));
    if (problem.crew.usable[t]) usable_[static_cast<size_t>(kind)].push_back(static_cast<Index>(t));
  }
  flatten(problem.tasks);
  find_least_ways();
  share_ = 1 / static_cast<double>(problem.crew.people.size());
  mean_ = 1 / static_cast<double>(problem.tasks.size());
  taken_.assign(problem.tasks.size(), kNone);
  const size_t steps = problem.tasks.size() + 1;
  kept_hands_.resize(steps * problem.crew.people.size());
  kept_tools_.resize(steps * tools);
  kept_zone_free_.resize(steps * problem.zones());
  kept_sums_.resize(steps);
  open();
  kept_ends_ = ends_;
  save(0);
}

void Tally::flatten(const std::vector<CrewTask>& tasks) {
  size_t people = 0;
  for (size_t i = 0; i < tasks.size(); ++i) {
    const CrewTask& task = tasks[i];
    Flat flat{};
    flat.minutes = task.minutes;
    flat.not_before = task.not_before;
    flat.people = people;
    flat.count = static_cast<size_t>(task.people);
    bool under_way = false;
    for (const UnderWay& now : problem_.crew.under_way) {
      if (now.duty != static_cast<Index>(i) || now.people.empty()) continue;
      under_way = true;
      flat.count = now.people.size();
    }
    people += flat.count;
    flat.after = after_.size();
    // What is under way goes on, whatever it should have waited for.
    if (!under_way) after_.insert(after_.end(), task.after.begin(), task.after.end());
    flat.after_end = after_.size();
    flat.zone = task.zone;
    flat.kind = task.tool ? static_cast<int>(*task.tool) : kNone;
    flat.unpleasant = task.unpleasant;
    flat.urgent = task.urgent;
    flat_.push_back(flat);
    for (Index tool : task.frees) {
      freed_by_[tool] = static_cast<Index>(i);
      any_freed_ = true;
    }
  }
  // Chains from their ends. Tasks are not listed in the order of precedence, and a circle, which no
  // line-up could keep, must not go round for ever.
  bool grown = true;
  for (size_t round = 0; grown && round < tasks.size(); ++round) {
    grown = false;
    for (const Flat& flat : flat_) {
      for (size_t a = flat.after; a < flat.after_end; ++a) {
        Flat& before = flat_[after_[a]];
        grown |= before.chain < flat.minutes + flat.chain;
        before.chain = std::max(before.chain, flat.minutes + flat.chain);
      }
    }
  }
}

/// Everybody comes to a task from another or from where they stood at first; who brings a tool,
/// with it in hand from a task of the kind, or after fetching it.
void Tally::find_least_ways() {
  const Crew& crew = problem_.crew;
  std::vector<int> starts;
  for (size_t p = 0; p < crew.people.size(); ++p) {
    starts.push_back(problem_.person_place(static_cast<Index>(p)));
  }
  const bool in_hand =
      std::ranges::any_of(crew.people, [](const Person& person) { return person.tool != kNone; }) ||
      !crew.under_way.empty();
  for (size_t i = 0; i < flat_.size(); ++i) {
    Flat& flat = flat_[i];
    const double* walks = problem_.walks_of(problem_.task_place(static_cast<Index>(i)));
    double any = kNever, same_kind = kNever, past_tool = kNever;
    for (int place : starts) any = std::min(any, walks[place]);
    for (size_t t = 0; t < kinds_.size(); ++t) {
      past_tool = std::min(past_tool, walks[problem_.tool_place(static_cast<Index>(t))]);
    }
    for (size_t j = 0; j < flat_.size(); ++j) {
      if (i == j) continue;
      any = std::min(any, walks[j]);
      if (flat_[j].kind == flat.kind) same_kind = std::min(same_kind, walks[j]);
    }
    const double fetched = std::min(any, past_tool) + (in_hand ? 0 : kFetch_minutes);
    flat.first_way = flat.kind == kNone ? any : std::min(same_kind, fetched);
    flat.other_ways = static_cast<double>(flat.count - 1) * any;
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
  return lineup;
}

Assignment Tally::assignment_of(const Lineup& lineup) {
  settle(lineup);
  Assignment assignment;
  assignment.order = lineup.order;
  for (size_t i = 0; i < flat_.size(); ++i) {
    const auto begin = lineup.people.begin() + static_cast<long>(flat_[i].people);
    assignment.people.emplace_back(begin, begin + static_cast<long>(flat_[i].count));
  }
  assignment.tool = taken_;
  return assignment;
}

void Tally::open() {
  const Crew& crew = problem_.crew;
  for (size_t p = 0; p < crew.people.size(); ++p) {
    const Person& person = crew.people[p];
    hands_.push_back(
        {person.from_minute, 0, problem_.person_place(static_cast<Index>(p)), person.tool, false});
  }
  for (size_t t = 0; t < problem_.shop.tools.size(); ++t) {
    tools_.push_back({0, problem_.tool_place(static_cast<Index>(t))});
  }
  zone_free_.assign(problem_.zones(), 0);
  ends_.assign(flat_.size(), kNever);
  for (const Flat& flat : flat_) {
    sums_.work_left += static_cast<double>(flat.count) * flat.minutes;
    sums_.ways_left += flat.first_way + flat.other_ways;
  }
  for (const UnderWay& now : crew.under_way) {
    if (now.people.empty()) continue;
    put_down(now.duty, now.people.data(), now.tool, 0, now.left_minutes);
    taken_[now.duty] = now.tool;
  }
}

void Tally::load(size_t step) {
  const size_t people = hands_.size(), tools = tools_.size(), zones = zone_free_.size();
  std::copy_n(kept_hands_.data() + step * people, people, hands_.data());
  std::copy_n(kept_tools_.data() + step * tools, tools, tools_.data());
  std::copy_n(kept_zone_free_.data() + step * zones, zones, zone_free_.data());
  sums_ = kept_sums_[step];
}

void Tally::save(size_t step) {
  const size_t people = hands_.size(), tools = tools_.size(), zones = zone_free_.size();
  std::copy_n(hands_.data(), people, kept_hands_.data() + step * people);
  std::copy_n(tools_.data(), tools, kept_tools_.data() + step * tools);
  std::copy_n(zone_free_.data(), zones, kept_zone_free_.data() + step * zones);
  kept_sums_[step] = sums_;
}

/// When somebody is at the task, with the tool that it asks for; ways are as long there as back.
Tally::Way Tally::come(const Hand& hand, const Flat& flat, const double* walks) const {
  const bool in_hand = hand.tool != kNone && kinds_[hand.tool] == flat.kind;
  if (flat.kind == kNone || in_hand) {
    return {hand.free + walks[hand.at], walks[hand.at], in_hand ? hand.tool : kNone};
  }
  Way best{kNever, 0, kNone};
  for (Index tool : usable_[static_cast<size_t>(flat.kind)]) {
    const Tool& fetched = tools_[tool];
    double ready = fetched.free;
    if (freed_by_[tool] != kNone) ready = std::max(ready, ends_[freed_by_[tool]]);
    const double to_tool = problem_.walk_minutes(hand.at, fetched.at);
    const double to_task = walks[fetched.at];
    const double arrive = std::max(hand.free + to_tool, ready) + kFetch_minutes + to_task;
    if (arrive < best.arrive) best = {arrive, to_tool + kFetch_minutes + to_task, tool};
  }
  return best;
}

void Tally::put_down(Index index, const Index* people, Index tool, double start, double minutes) {
  const Flat& flat = flat_[index];
  const double end = start + minutes;
  const int place = problem_.task_place(index);
  if (tool != kNone) {
    if (hands_[people[0]].tool != tool) {
      for (Hand& hand : hands_) {
        if (hand.tool == tool) hand.tool = kNone;
      }
    }
    tools_[tool] = {end, place};
  }
  for (size_t i = 0; i < flat.count; ++i) {
    Hand& hand = hands_[people[i]];
    sums_.spent += end - hand.free;
    hand.at = place;
    hand.free = end;
    hand.busy = true;
    hand.tool = i == 0 ? tool : kNone;
    if (flat.unpleasant) hand.unpleasant += minutes;
  }
  sums_.waited += end;
  if (flat.urgent) sums_.urgent += end;
  if (flat.zone != kNone) zone_free_[flat.zone] = end;
  ends_[index] = end;
  sums_.last = std::max(sums_.last, end + flat.chain);
  sums_.work_left -= static_cast<double>(flat.count) * flat.minutes;
  sums_.ways_left -= flat.first_way + flat.other_ways;
}

void Tally::take(const Lineup& lineup, Index index) {
  const Flat& flat = flat_[index];
  double start = flat.not_before;
  for (size_t a = flat.after; a < flat.after_end; ++a) {
    const double end = ends_[after_[a]];
    if (end != kNever) start = std::max(start, end);
  }
  if (flat.zone != kNone) start = std::max(start, zone_free_[flat.zone]);
  const Index* people = &lineup.people[flat.people];
  const double* walks = problem_.walks_of(problem_.task_place(index));
  const Way way = come(hands_[people[0]], flat, walks);
  start = std::max(start, way.arrive);
  sums_.walked += way.walk;
  for (size_t i = 1; i < flat.count; ++i) {
    const Hand& hand = hands_[people[i]];
    start = std::max(start, hand.free + walks[hand.at]);
    sums_.walked += walks[hand.at];
  }
  tool_taken_ = way.tool;
  put_down(index, people, way.tool, start, flat.minutes);
}

/// No line-up that goes on from here costs less, but for rounding.
double Tally::at_least() const {
  CrewSums sums;
  sums.minutes = std::max(sums_.last, (sums_.spent + sums_.work_left + sums_.ways_left) * share_);
  sums.walked_minutes = sums_.walked + sums_.ways_left;
  sums.waited_minutes = sums_.waited * mean_;
  sums.urgent_minutes = sums_.urgent;
  return cost_of(sums);
}

/// Tools go home with whoever can be there first, as in the timetable.
double Tally::close() {
  for (size_t p = 0; p < hands_.size(); ++p) {
    // Not a number or never: a tool that is freed only later, or somebody who has left.
    const bool stays = hands_[p].free <= problem_.crew.people[p].until_minute + kSame_minutes;
    if (hands_[p].busy && !(stays && hands_[p].free < kNever)) return kNever;
  }
  for (size_t t = 0; t < tools_.size(); ++t) {
    const Tool& tool = tools_[t];
    if (tool.free <= 0) continue;
    const int hook = problem_.hook_place(static_cast<Index>(t));
    const double carry = problem_.walk_minutes(tool.at, hook);
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
    sums_.walked += soonest - best->free;
    best->free = soonest;
    best->at = hook;
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
  sums.walked_minutes = sums_.walked;
  sums.urgent_minutes = sums_.urgent;
  sums.waited_minutes = sums_.waited / static_cast<double>(flat_.size());
  sums.unfair_minutes = most - total / static_cast<double>(hands_.size());
  minutes_ = sums.minutes;
  return cost_of(sums);
}

double Tally::settle(const Lineup& lineup, size_t from) {
  load(from);
  for (size_t step = from; step < lineup.order.size(); ++step) ends_[lineup.order[step]] = kNever;
  for (size_t step = from; step < lineup.order.size(); ++step) {
    take(lineup, lineup.order[step]);
    taken_[lineup.order[step]] = tool_taken_;
    save(step + 1);
  }
  kept_ends_ = ends_;
  return close();
}

double Tally::cost(const Lineup& lineup, size_t from, double most) {
  load(from);
  if (any_freed_) {
    for (size_t step = from; step < lineup.order.size(); ++step) ends_[lineup.order[step]] = kNever;
  }
  size_t step = from;
  double least = 0;
  while (step < lineup.order.size() && least <= most) {
    take(lineup, lineup.order[step++]);
    least = at_least();
  }
  const double cost = least <= most ? close() : kNever;
  // What was tried is over; what was settled on still ends when it did.
  const size_t touched = any_freed_ ? lineup.order.size() : step;
  for (size_t i = from; i < touched; ++i) ends_[lineup.order[i]] = kept_ends_[lineup.order[i]];
  return cost;
}

}  // namespace chipfall
