#include "core/crew/arborescence.h"

#include <algorithm>
#include <limits>

namespace chipfall {
namespace {

constexpr double kNoArc = std::numeric_limits<double>::infinity();

enum class State : char { kNew, kOnPath, kReached };

}  // namespace

Arborescence::Arborescence(size_t nodes)
    : nodes_(nodes),
      into_(2 * nodes * nodes),
      head_(2 * nodes * nodes),
      group_of_(nodes),
      around_(2 * nodes),
      tail_(2 * nodes),
      enters_(2 * nodes),
      paid_(2 * nodes),
      before_(nodes) {}

/// The cheapest arc into a group from outside it.
double Arborescence::take_least_arc(size_t group) {
  const double* row = &into_[group * nodes_];
  double least = kNoArc;
  for (size_t from = 0; from < nodes_; ++from) {
    if (row[from] < least && group_of_[from] != static_cast<int>(group)) {
      least = row[from];
      tail_[group] = static_cast<int>(from);
    }
  }
  if (least < kNoArc) {
    enters_[group] = head_[group * nodes_ + static_cast<size_t>(tail_[group])];
    paid_[group] = least;
  }
  return least;
}

/// The end of the path has closed to a circle: one group from now on, into which an arc costs what
/// it costs more than the arc of the circle that it would replace.
size_t Arborescence::contract(size_t first_on_path) {
  const size_t circle = groups_++;
  double* row = &into_[circle * nodes_];
  int* heads = &head_[circle * nodes_];
  std::fill(row, row + nodes_, kNoArc);
  around_[circle] = -1;
  for (size_t i = first_on_path; i < path_.size(); ++i) {
    const size_t member = path_[i];
    around_[member] = static_cast<int>(circle);
    for (size_t from = 0; from < nodes_; ++from) {
      const double more = into_[member * nodes_ + from] - paid_[member];
      if (more < row[from]) {
        row[from] = more;
        heads[from] = head_[member * nodes_ + from];
      }
    }
  }
  for (int& group : group_of_) {
    if (around_[static_cast<size_t>(group)] == static_cast<int>(circle)) {
      group = static_cast<int>(circle);
    }
  }
  path_.resize(first_on_path);
  return circle;
}

/// From the outermost groups inwards: the arc into a group goes to one node of it, and replaces the
/// arcs taken earlier into the smaller groups around that node.
void Arborescence::take_apart() {
  std::vector<char> replaced(groups_, 0);
  for (size_t group = groups_; group-- > 1;) {
    if (replaced[group]) continue;
    before_[static_cast<size_t>(enters_[group])] = tail_[group];
    for (int inner = enters_[group]; inner != static_cast<int>(group); inner = around_[inner]) {
      replaced[static_cast<size_t>(inner)] = 1;
    }
  }
}

const std::vector<int>& Arborescence::cheapest(const std::vector<double>& cost) {
  groups_ = nodes_;
  before_.assign(nodes_, 0);
  for (size_t to = 0; to < nodes_; ++to) {
    group_of_[to] = static_cast<int>(to);
    around_[to] = -1;
    for (size_t from = 0; from < nodes_; ++from) {
      into_[to * nodes_ + from] = from == to ? kNoArc : cost[from * nodes_ + to];
      head_[to * nodes_ + from] = static_cast<int>(to);
    }
  }
  std::vector<State> state(2 * nodes_, State::kNew);
  state[0] = State::kReached;
  for (size_t start = 1; start < nodes_; ++start) {
    if (state[static_cast<size_t>(group_of_[start])] != State::kNew) continue;
    path_.assign(1, start);
    state[start] = State::kOnPath;
    while (true) {
      if (take_least_arc(path_.back()) == kNoArc) {
        before_.clear();
        return before_;
      }
      const size_t next = static_cast<size_t>(group_of_[static_cast<size_t>(tail_[path_.back()])]);
      if (state[next] == State::kReached) break;
      if (state[next] == State::kNew) {
        path_.push_back(next);
        state[next] = State::kOnPath;
        continue;
      }
      const auto first = std::ranges::find(path_, next) - path_.begin();
      const size_t circle = contract(static_cast<size_t>(first));
      path_.push_back(circle);
      state[circle] = State::kOnPath;
    }
    for (size_t group : path_) state[group] = State::kReached;
  }
  take_apart();
  return before_;
}

}  // namespace chipfall
