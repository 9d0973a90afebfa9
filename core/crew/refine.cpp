#include "core/crew/refine.h"

#include <algorithm>
#include <numeric>

#include "core/crew/cost.h"
#include "core/crew/tally.h"
#include "core/duty/minutes.h"

namespace chipfall {
namespace {

constexpr double kSame_minutes = 1e-9;
/// How much dearer a change may be and still be kept, at first: less and less, down to nothing.
constexpr double kLeeway_minutes = 0.1;
/// Nearest tasks next to which one may be put.
constexpr size_t kNeighbours = 8;

class Refiner {
 public:
  Refiner(const CrewProblem& problem, std::uint64_t seed);

  int run(double bound, int evaluations, CrewTimetable& best);

 private:
  void find_neighbours();
  bool change();
  bool shift(Index task);
  bool swap_tails();
  bool join(Index task, Index other);
  bool exchange(Index task, Index other);

  /// A number from 0 up to below `n`, with no division; the same sequence on every machine.
  size_t below(size_t n) { return static_cast<size_t>(((dice_() >> 32) * n) >> 32); }
  double share() { return static_cast<double>(dice_() >> 11) * 0x1p-53; }
  Index any_task() { return current_.order[below(current_.order.size())]; }
  Index any_near(Index task) { return neighbours_[task][below(neighbours_[task].size())]; }
  bool comes_after(Index task, Index other) const {
    return before_[static_cast<size_t>(task) * count_ + static_cast<size_t>(other)] != 0;
  }
  size_t size(Index task) const { return tally_.last(task) - tally_.first(task); }
  Index& person(Index task, size_t role = 0) { return next_.people[tally_.first(task) + role]; }
  bool meet(Index one, Index other) const;
  size_t reach(size_t from, size_t to) const;
  void put(size_t from, size_t to);
  void note_places(size_t from);

  const CrewProblem& problem_;
  size_t count_;
  std::vector<char> before_;  ///< by pairs of tasks
  std::mt19937_64 dice_;
  Tally tally_;
  std::vector<std::vector<Index>> neighbours_;  ///< by task, nearest first
  Lineup current_, next_;
  std::vector<size_t> place_;  ///< by task, in the current order; `count_` for those under way
  size_t from_ = 0;            ///< the first place at which the next differs from the current
};

Refiner::Refiner(const CrewProblem& problem, std::uint64_t seed)
    : problem_(problem),
      count_(problem.tasks.size()),
      before_(count_ * count_, 0),
      dice_(seed),
      tally_(problem),
      place_(count_, count_) {
  for (size_t i = 0; i < count_; ++i) {
    for (Index before : problem.tasks[i].after)
      before_[i * count_ + static_cast<size_t>(before)] = 1;
  }
  find_neighbours();
}

void Refiner::find_neighbours() {
  std::vector<Index> others(count_);
  for (Index task = 0; task < static_cast<Index>(count_); ++task) {
    std::iota(others.begin(), others.end(), 0);
    const double* walks = problem_.walks_of(problem_.task_place(task));
    const auto way = [&](Index other) {
      const std::optional<ToolKind>& tool = problem_.tasks[task].tool;
      return walks[other] + (tool == problem_.tasks[other].tool ? 0 : kFetch_minutes);
    };
    const auto nearer = [&](Index a, Index b) {
      return way(a) != way(b) ? way(a) < way(b) : a < b;
    };
    std::erase(others, task);
    const size_t near = std::min(kNeighbours, others.size());
    std::partial_sort(others.begin(), others.begin() + static_cast<long>(near), others.end(),
                      nearer);
    neighbours_.emplace_back(others.begin(), others.begin() + static_cast<long>(near));
    others.push_back(task);
  }
}

/// One change at random of `next_`, which is the current line-up; false where it would be none.
bool Refiner::change() {
  from_ = current_.order.size();
  const Index task = any_task();
  switch (below(12)) {
    case 0:
    case 1:
      return shift(task);
    case 2:
    case 3:
    case 4:
      return swap_tails();
    case 5:
      return join(task, any_task());
    case 6:
    case 7:
    case 8:
      return join(task, any_near(task));
    case 9:
      return exchange(task, any_task());
    default:
      return exchange(task, below(2) == 0 ? any_near(task) : any_task());
  }
}

/// Which of two comes first makes a difference: they share a person, a tool or a zone.
bool Refiner::meet(Index one, Index other) const {
  const CrewTask& a = problem_.tasks[one];
  const CrewTask& b = problem_.tasks[other];
  if (a.zone != kNone && a.zone == b.zone) return true;
  if (a.tool && a.tool == b.tool) return true;
  for (size_t i = tally_.first(one); i < tally_.last(one); ++i) {
    for (size_t j = tally_.first(other); j < tally_.last(other); ++j) {
      if (next_.people[i] == next_.people[j]) return true;
    }
  }
  return false;
}

/// How far towards a place the task at another may go past those that it must not pass.
size_t Refiner::reach(size_t from, size_t to) const {
  const std::vector<Index>& order = next_.order;
  size_t at = from;
  while (at > to && !comes_after(order[from], order[at - 1])) --at;
  while (at < to && !comes_after(order[at + 1], order[from])) ++at;
  return at;
}

void Refiner::put(size_t from, size_t to) {
  const auto at = [&](size_t i) { return next_.order.begin() + static_cast<long>(i); };
  if (from < to) std::rotate(at(from), at(from + 1), at(to + 1));
  if (to < from) std::rotate(at(to), at(from), at(from + 1));
  from_ = std::min({from_, from, to});
}

/// Sooner or later, with the same people.
bool Refiner::shift(Index task) {
  const size_t from = place_[task];
  const size_t to = reach(from, below(next_.order.size()));
  bool matters = false;
  for (size_t i = std::min(from, to); i <= std::max(from, to) && !matters; ++i) {
    matters = i != from && meet(task, next_.order[i]);
  }
  if (matters) put(from, to);
  return matters;
}

/// From some task on, two people do each other's work.
bool Refiner::swap_tails() {
  const auto one = static_cast<Index>(below(problem_.crew.people.size()));
  const auto other = static_cast<Index>(below(problem_.crew.people.size()));
  if (one == other) return false;
  bool changed = false;
  for (size_t i = below(next_.order.size()); i < next_.order.size(); ++i) {
    const Index task = next_.order[i];
    for (size_t role = 0; role < size(task); ++role) {
      Index& who = person(task, role);
      if (who != one && who != other) continue;
      who = who == one ? other : one;
      if (!changed) from_ = i;
      changed = true;
    }
  }
  return changed;
}

/// Done by whoever does another, as near before or behind it as may be.
bool Refiner::join(Index task, Index other) {
  const size_t from = place_[task];
  const size_t there = place_[other];
  if (task == other || there == count_) return false;
  const size_t role = below(size(task));
  const Index whose = person(other, below(size(other)));
  const Index before = person(task, role);
  for (size_t i = 0; i < size(task); ++i) {
    if (person(task, i) == whose) person(task, i) = before;
  }
  person(task, role) = whose;
  size_t to = there;
  const bool behind = below(2) == 0;
  if (behind && there < from) ++to;
  if (!behind && there > from) --to;
  to = reach(from, to);
  put(from, to);
  return whose != before || from != to;
}

/// Each in the other's place and lane, as near as may be.
bool Refiner::exchange(Index task, Index other) {
  if (task == other || place_[other] == count_ || size(task) != 1 || size(other) != 1) return false;
  const size_t first = std::min(place_[task], place_[other]);
  const size_t last = std::max(place_[task], place_[other]);
  const Index later = next_.order[last];
  std::swap(person(task), person(other));
  put(first, reach(first, last));
  const auto now = static_cast<size_t>(std::ranges::find(next_.order, later) - next_.order.begin());
  put(now, reach(now, first));
  return true;
}

void Refiner::note_places(size_t from) {
  for (size_t i = from; i < current_.order.size(); ++i) place_[current_.order[i]] = i;
}

int Refiner::run(double bound, int evaluations, CrewTimetable& best) {
  current_ = tally_.lineup_of(best.assignment);
  if (current_.order.size() < 2) return 0;
  note_places(0);
  Lineup least = current_;
  double value = tally_.settle(current_);
  double least_value = value;
  int used = 0;
  while (used < evaluations) {
    ++used;
    next_ = current_;
    if (!change()) continue;
    const double left = 1 - static_cast<double>(used) / evaluations;
    const double most = value + kLeeway_minutes * left * share() + kSame_minutes;
    if (!(tally_.cost(next_, from_, most) <= most)) continue;
    std::swap(current_, next_);
    note_places(from_);
    value = tally_.settle(current_, from_);
    if (value >= least_value - kSame_minutes) continue;
    least_value = value;
    least = current_;
    if (tally_.minutes() <= bound + kSame_minutes) break;
  }
  if (least_value < cost(best) - kSame_minutes) {
    best = schedule_as(problem_, tally_.assignment_of(least));
  }
  return used;
}

}  // namespace

OrderMover::OrderMover(const std::vector<CrewTask>& tasks, std::uint64_t seed)
    : count_(tasks.size()), before_(count_ * count_, 0), dice_(seed) {
  for (size_t i = 0; i < count_; ++i) {
    for (Index before : tasks[i].after) before_[i * count_ + static_cast<size_t>(before)] = 1;
  }
}

void OrderMover::move(std::vector<Index>& order) {
  const Span span = span_of(order, order[below(order.size())]);
  if (span.low == span.high) return;
  put(order, span.at, span.low + below(span.high - span.low + 1));
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
