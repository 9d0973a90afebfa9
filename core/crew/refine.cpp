#include "core/crew/refine.h"

#include <algorithm>
#include <numeric>

#include "core/crew/tally.h"

namespace chipfall {
namespace {

constexpr double kSame_minutes = 1e-9;
/// Minutes of everybody's evening that a minute of walking, of unfairness or of the tasks' mean end
/// is worth: enough that nobody crosses the shop for a few seconds' gain, leaves what is for safety
/// to the end, or stands idle while there is something to do.
constexpr double kWalkWorth = 0.1;
constexpr double kUnfairWorth = 0.05;
constexpr double kWaitWorth = 0.02;
constexpr double kUrgentWorth = 0.1;
/// A task that nobody can do weighs more than any timetable.
constexpr double kLeftOutWorth = 1e4;

/// How much dearer a change may be and still be kept, at first: less and less, down to nothing.
constexpr double kLeeway_minutes = 0.15;
/// Nearest tasks next to which one may be put.
constexpr size_t kNeighbours = 8;

class Refiner {
 public:
  Refiner(const CrewProblem& problem, std::uint64_t seed)
      : problem_(problem), mover_(problem.tasks, seed), tally_(problem) {
    find_neighbours();
  }

  int run(double bound, int evaluations, CrewTimetable& best);

 private:
  void find_neighbours();
  void change(Lineup& lineup);
  void give_away(Lineup& lineup, Index task);
  void swap_people(Lineup& lineup, Index task);
  void swap_tails(Lineup& lineup);
  void join(Lineup& lineup, Index task, Index other);
  void pick_tool(Lineup& lineup, Index task);
  Index any_task(const Lineup& lineup) { return lineup.order[mover_.below(lineup.order.size())]; }
  bool alone(Index task) const { return tally_.last(task) - tally_.first(task) == 1; }

  const CrewProblem& problem_;
  OrderMover mover_;
  Tally tally_;
  std::vector<std::vector<Index>> neighbours_;  ///< by task, nearest first
};

void Refiner::find_neighbours() {
  const auto count = static_cast<Index>(problem_.tasks.size());
  std::vector<Index> others(problem_.tasks.size());
  for (Index task = 0; task < count; ++task) {
    std::iota(others.begin(), others.end(), 0);
    const auto nearer = [&](Index a, Index b) {
      const double to_a = problem_.walk_minutes(task, a);
      const double to_b = problem_.walk_minutes(task, b);
      return to_a != to_b ? to_a < to_b : a < b;
    };
    std::erase(others, task);
    const size_t near = std::min(kNeighbours, others.size());
    std::partial_sort(others.begin(), others.begin() + static_cast<long>(near), others.end(),
                      nearer);
    neighbours_.emplace_back(others.begin(), others.begin() + static_cast<long>(near));
    others.push_back(task);
  }
}

/// One change at random.
void Refiner::change(Lineup& lineup) {
  const Index task = any_task(lineup);
  switch (mover_.below(8)) {
    case 0:
    case 1:
    case 2:
      mover_.move(lineup.order);
      break;
    case 3:
      give_away(lineup, task);
      mover_.move(lineup.order, task);
      break;
    case 4:
      swap_people(lineup, task);
      mover_.move(lineup.order, task);
      break;
    case 5:
      swap_tails(lineup);
      break;
    case 6:
      join(lineup, task, any_task(lineup));
      break;
    default:
      join(lineup, task, neighbours_[task][mover_.below(neighbours_[task].size())]);
      break;
  }
}

/// To somebody else, with the tool that they have at hand around then, or any.
void Refiner::give_away(Lineup& lineup, Index task) {
  const size_t role = tally_.first(task) + mover_.below(tally_.last(task) - tally_.first(task));
  const auto person = static_cast<Index>(mover_.below(problem_.crew.people.size()));
  for (size_t i = tally_.first(task); i < tally_.last(task); ++i) {
    if (lineup.people[i] == person) lineup.people[i] = lineup.people[role];
  }
  lineup.people[role] = person;
  pick_tool(lineup, task);
}

void Refiner::pick_tool(Lineup& lineup, Index task) {
  const std::optional<ToolKind> wanted = problem_.tasks[task].tool;
  if (!wanted) return;
  if (mover_.below(2) == 0) {
    const auto tool = static_cast<Index>(mover_.below(problem_.shop.tools.size()));
    if (problem_.crew.usable[tool] && problem_.shop.tools[tool].kind == *wanted) {
      lineup.tool[task] = tool;
    }
    return;
  }
  const Index person = lineup.people[tally_.first(task)];
  for (Index earlier : lineup.order) {
    if (earlier == task) return;
    const Index tool = lineup.tool[earlier];
    if (tool != kNone && lineup.people[tally_.first(earlier)] == person &&
        problem_.shop.tools[tool].kind == *wanted) {
      lineup.tool[task] = tool;
    }
  }
}

void Refiner::swap_people(Lineup& lineup, Index task) {
  const Index other = any_task(lineup);
  if (!alone(task) || !alone(other)) return;
  std::swap(lineup.people[tally_.first(task)], lineup.people[tally_.first(other)]);
}

/// From some task on, two people do each other's work.
void Refiner::swap_tails(Lineup& lineup) {
  const auto one = static_cast<Index>(mover_.below(problem_.crew.people.size()));
  const auto other = static_cast<Index>(mover_.below(problem_.crew.people.size()));
  for (size_t i = mover_.below(lineup.order.size()); i < lineup.order.size(); ++i) {
    const Index task = lineup.order[i];
    for (size_t who = tally_.first(task); who < tally_.last(task); ++who) {
      Index& person = lineup.people[who];
      person = person == one ? other : person == other ? one : person;
    }
  }
}

/// Done by whoever does another, as near before or behind it as may be.
void Refiner::join(Lineup& lineup, Index task, Index other) {
  if (task == other) return;
  mover_.put_beside(lineup.order, task, other);
  const Index person = lineup.people[tally_.first(other)];
  const size_t mine = tally_.first(task);
  for (size_t i = mine; i < tally_.last(task); ++i) {
    if (lineup.people[i] == person) lineup.people[i] = lineup.people[mine];
  }
  lineup.people[mine] = person;
  if (problem_.tasks[task].tool && problem_.tasks[task].tool == problem_.tasks[other].tool) {
    lineup.tool[task] = lineup.tool[other];
  } else if (problem_.tasks[task].tool) {
    pick_tool(lineup, task);
  }
}

int Refiner::run(double bound, int evaluations, CrewTimetable& best) {
  Lineup current = tally_.lineup_of(best.assignment);
  if (current.order.size() < 2) return 0;
  Lineup next = current;
  Lineup least = current;
  double least_value = tally_.cost(current);
  double value = least_value;
  int used = 0;
  for (; used < evaluations; ++used) {
    next = current;
    change(next);
    const double after = tally_.cost(next);
    const double left = 1 - static_cast<double>(used) / evaluations;
    const double leeway = kLeeway_minutes * left * left * mover_.share();
    if (!(after <= value + leeway + kSame_minutes)) continue;
    value = after;
    std::swap(current, next);
    if (after >= least_value - kSame_minutes) continue;
    least_value = after;
    least = current;
    if (tally_.minutes() <= bound + kSame_minutes) break;
  }
  if (least_value < cost(best) - kSame_minutes) {
    best = schedule_as(problem_, tally_.assignment_of(least));
  }
  return used;
}

}  // namespace

double cost_of(const CrewSums& sums) {
  return sums.minutes + kWalkWorth * sums.walked_minutes + kUnfairWorth * sums.unfair_minutes +
         kWaitWorth * sums.waited_minutes + kUrgentWorth * sums.urgent_minutes;
}

double cost(const CrewTimetable& timetable) {
  return cost_of(timetable) + kLeftOutWorth * static_cast<double>(timetable.left_out.size());
}

OrderMover::OrderMover(const std::vector<CrewTask>& tasks, std::uint64_t seed)
    : count_(tasks.size()), before_(count_ * count_, 0), dice_(seed) {
  for (size_t i = 0; i < count_; ++i) {
    for (Index before : tasks[i].after) before_[i * count_ + static_cast<size_t>(before)] = 1;
  }
}

void OrderMover::move(std::vector<Index>& order) { move(order, order[below(order.size())]); }

void OrderMover::move(std::vector<Index>& order, Index task) {
  const Span span = span_of(order, task);
  if (span.low == span.high) return;
  put(order, span.at, span.low + below(span.high - span.low + 1));
}

void OrderMover::put_beside(std::vector<Index>& order, Index task, Index other) {
  const Span span = span_of(order, task);
  const auto there = static_cast<size_t>(std::ranges::find(order, other) - order.begin());
  if (there == order.size()) return;
  size_t to = there;
  const bool behind = below(2) == 0;
  if (behind && there < span.at) ++to;
  if (!behind && there > span.at) --to;
  put(order, span.at, std::clamp(to, span.low, span.high));
}

OrderMover::Span OrderMover::span_of(const std::vector<Index>& order, Index task) const {
  Span span;
  span.at = static_cast<size_t>(std::ranges::find(order, task) - order.begin());
  span.low = span.high = span.at;
  while (span.low > 0 && !comes_after(task, order[span.low - 1])) --span.low;
  while (span.high + 1 < order.size() && !comes_after(order[span.high + 1], task)) ++span.high;
  return span;
}

void OrderMover::put(std::vector<Index>& order, size_t from, size_t to) {
  const auto at = [&](size_t i) { return order.begin() + static_cast<long>(i); };
  if (from < to) std::rotate(at(from), at(from + 1), at(to + 1));
  if (to < from) std::rotate(at(to), at(from), at(from + 1));
}

int refine(const CrewProblem& problem, double bound, int evaluations, std::uint64_t seed,
           CrewTimetable& best) {
  if (best.assignment.order.size() < 2 || best.minutes <= bound + kSame_minutes) return 0;
  return Refiner(problem, seed).run(bound, evaluations, best);
}

}  // namespace chipfall
