#include "core/crew/least_walking.h"

#include <algorithm>
#include <cmath>

#include "core/crew/arborescence.h"
#include "core/duty/minutes.h"

namespace chipfall {
namespace {

constexpr double kNoWay = std::numeric_limits<double>::infinity();
/// Trees looked at: enough to come within 1 % of what the charges can bring, with 40 tasks. Fewer
/// where there are many more tasks, down to the one without charges.
constexpr size_t kTrees = 100;
constexpr size_t kArcs = 1000000;  ///< looked at in all
/// The first step of the charges, as a share of the mean way.
constexpr double kFirstStep = 0.3;
/// Of the step: the rest follows the one before, against swinging to and fro.
constexpr double kFresh = 0.7;

/// Where a lane begins or what it comes to.
struct Stop {
  enum class What { kStart, kTask, kFetch, kHome };
  What what = What::kTask;
  std::vector<int> places;  ///< any of these, whichever is nearest
  Index task = kNone;
  std::optional<ToolKind> holds;  ///< on leaving
  std::optional<ToolKind> wants;  ///< must hold on arriving; the kind to fetch or to take home
};

size_t kind_of(ToolKind kind) { return static_cast<size_t>(kind); }

class Lanes {
 public:
  Lanes(const CrewProblem& problem, const LaneNeeds& needs);

  double least_minutes();

 private:
  void add_starts(const LaneNeeds& needs);
  void add_tasks(const LaneNeeds& needs);
  void add_tool_stops(ToolKind kind, size_t needed);
  void find_order();
  double way(const Stop& from, const Stop& to) const;
  double way_past(int from, const std::vector<int>& past, double there, int to, Index task) const;
  double nearest(int from, const std::vector<int>& places) const;
  bool is_under_way(Index task) const {
    return std::ranges::any_of(problem_.crew.under_way, [&](const UnderWay& now) {
      return now.duty == task && !now.people.empty();
    });
  }
  bool comes_before(Index task, Index other) const {
    return before_[static_cast<size_t>(task) * problem_.tasks.size() + static_cast<size_t>(other)];
  }
  double tree_minutes();
  void charge(double step);

  const CrewProblem& problem_;
  std::vector<char> before_;  ///< by pairs of tasks
  std::vector<Stop> stops_;   ///< starts first
  size_t starts_ = 0;
  std::array<std::vector<int>, kToolKinds> worked_at_;  ///< places of tasks with such a tool
  std::array<std::vector<int>, kToolKinds> stand_at_;   ///< where one may be fetched besides
  std::vector<char> goes_on_;  ///< by stop: left exactly once, not at most once
  std::vector<double> ways_;   ///< by pairs of stops
  std::vector<double> charge_;
  std::vector<double> excess_, last_excess_;  ///< ways out of each stop, beyond one
  Arborescence tree_{0};
  std::vector<double> cost_;      ///< of the tree's arcs; node 0 is all starts together
  std::vector<size_t> start_of_;  ///< by node: the start nearest to it, charges included
};

Lanes::Lanes(const CrewProblem& problem, const LaneNeeds& needs) : problem_(problem) {
  find_order();
  add_starts(needs);
  add_tasks(needs);
  for (size_t kind = 0; kind < kToolKinds; ++kind) {
    const auto needed = static_cast<size_t>(needs.tools[kind]);
    if (needed > 0) add_tool_stops(static_cast<ToolKind>(kind), needed);
  }
  const size_t count = stops_.size();
  ways_.assign(count * count, kNoWay);
  for (size_t from = 0; from < count; ++from) {
    for (size_t to = starts_; to < count; ++to) {
      if (from != to) ways_[from * count + to] = way(stops_[from], stops_[to]);
    }
  }
  goes_on_.resize(count, 0);
  for (size_t i = starts_; i < count; ++i) goes_on_[i] = stops_[i].what == Stop::What::kFetch;
  charge_.assign(count, 0);
  last_excess_.assign(count, 0);
  tree_ = Arborescence(count - starts_ + 1);
}

/// Which tasks come before which, directly or through others.
void Lanes::find_order() {
  const size_t count = problem_.tasks.size();
  before_.assign(count * count, 0);
  for (size_t i = 0; i < count; ++i) {
    for (Index earlier : problem_.tasks[i].after) before_[earlier * count + i] = 1;
  }
  for (size_t mid = 0; mid < count; ++mid) {
    for (size_t i = 0; i < count; ++i) {
      if (!before_[i * count + mid]) continue;
      for (size_t j = 0; j < count; ++j) before_[i * count + j] |= before_[mid * count + j];
    }
  }
}

void Lanes::add_starts(const LaneNeeds& needs) {
  const Crew& crew = problem_.crew;
  for (size_t p = 0; p < crew.people.size(); ++p) {
    Stop start{Stop::What::kStart, {problem_.person_place(static_cast<Index>(p))}, kNone, {}, {}};
    Index tool = crew.people[p].tool;
    for (const UnderWay& now : crew.under_way) {
      const auto at = std::ranges::find(now.people, static_cast<Index>(p));
      if (at == now.people.end()) continue;
      start.places = {problem_.task_place(now.duty)};
      tool = at == now.people.begin() ? now.tool : kNone;
    }
    if (tool != kNone) start.holds = problem_.shop.tools[tool].kind;
    stops_.push_back(std::move(start));
    goes_on_.push_back(needs.leaves[p]);
  }
  starts_ = stops_.size();
}

void Lanes::add_tasks(const LaneNeeds& needs) {
  for (size_t i = 0; i < problem_.tasks.size(); ++i) {
    const CrewTask& task = problem_.tasks[i];
    const Index index = static_cast<Index>(i);
    const int place = problem_.task_place(index);
    if (is_under_way(index)) {
      for (std::vector<int>& places : stand_at_) places.push_back(place);
      continue;
    }
    for (int person = 0; person < task.people; ++person) {
      Stop stop{Stop::What::kTask, {place}, index, {}, {}};
      // One of them brings the tool; the others come and go with empty hands.
      const bool brings = person == 0 && task.tool && needs.tools[kind_of(*task.tool)] > 0;
      if (brings) stop.wants = stop.holds = task.tool;
      stops_.push_back(std::move(stop));
    }
    if (task.tool) worked_at_[kind_of(*task.tool)].push_back(place);
  }
}

/// So many tools of the kind are used, so as many are fetched a first time, unless they are in
/// somebody's hand, and as many are taken home. Which ones, is certain only if all are.
void Lanes::add_tool_stops(ToolKind kind, size_t needed) {
  const Crew& crew = problem_.crew;
  std::vector<int> fetched_at, hooks;
  std::vector<int>& others_at = stand_at_[kind_of(kind)];
  size_t in_hand = 0;
  for (size_t t = 0; t < problem_.shop.tools.size(); ++t) {
    if (problem_.shop.tools[t].kind != kind || !crew.usable[t]) continue;
    const Index tool = static_cast<Index>(t);
    hooks.push_back(problem_.hook_place(tool));
    if (std::ranges::count(crew.people, tool, &Person::tool) > 0 ||
        std::ranges::count(crew.under_way, tool, &UnderWay::tool) > 0) {
      ++in_hand;
      others_at.push_back(problem_.tool_place(tool));
    } else {
      fetched_at.push_back(problem_.tool_place(tool));
    }
  }
  const auto add = [&](Stop::What what, const std::vector<int>& places, size_t count) {
    for (size_t i = 0; i < count; ++i) {
      Stop stop{what, places, kNone, {}, kind};
      if (count == places.size()) stop.places = {places[i]};
      if (what == Stop::What::kFetch) stop.holds = kind;
      stops_.push_back(std::move(stop));
    }
  };
  const size_t first_fetches = needed > in_hand ? needed - in_hand : 0;
  add(Stop::What::kFetch, fetched_at, first_fetches);
  if (first_fetches < fetched_at.size()) {
    others_at.insert(others_at.end(), fetched_at.begin(), fetched_at.end());
  }
  const bool may_end_at_home = std::ranges::any_of(worked_at_[kind_of(kind)], [&](int place) {
    return problem_.tasks[static_cast<size_t>(place)].minutes <= 0 ||
           std::ranges::any_of(hooks,
                               [&](int hook) { return problem_.walk_minutes(place, hook) <= 0; });
  });
  if (!may_end_at_home) add(Stop::What::kHome, hooks, needed);
}

double Lanes::nearest(int from, const std::vector<int>& places) const {
  double least = kNoWay;
  for (int place : places) least = std::min(least, problem_.walk_minutes(from, place));
  return least;
}

/// To one of the places past which the way goes, `there` minutes at it, and on to the task.
double Lanes::way_past(int from, const std::vector<int>& past, double there, int to,
                       Index task) const {
  double least = kNoWay;
  const int tasks = static_cast<int>(problem_.tasks.size());
  for (int place : past) {
    const bool later =
        task != kNone && place < tasks && (place == task || comes_before(task, place));
    if (later) continue;
    least = std::min(least,
                     problem_.walk_minutes(from, place) + there + problem_.walk_minutes(place, to));
  }
  return least;
}

/// The least that coming from one stop to the other takes, or kNoWay.
double Lanes::way(const Stop& from, const Stop& to) const {
  using What = Stop::What;
  const bool with_tool = from.what == What::kFetch;
  if (from.what == What::kHome && to.what != What::kHome) return kNoWay;
  if (with_tool && (to.what != What::kTask || to.wants != from.holds)) return kNoWay;
  if (from.what == What::kTask && to.what == What::kTask &&
      (from.task == to.task || comes_before(to.task, from.task))) {
    return kNoWay;
  }
  const size_t kind = to.wants ? kind_of(*to.wants) : 0;
  double least = kNoWay;
  for (int place : from.places) {
    switch (to.what) {
      case What::kStart:
        break;
      case What::kFetch:
        least = std::min(least, nearest(place, to.places) + kFetch_minutes);
        break;
      case What::kHome:
        for (int hook : to.places) {
          least = std::min(least, way_past(place, worked_at_[kind], 0, hook, kNone));
        }
        break;
      case What::kTask: {
        const int goal = to.places.front();
        if (!to.wants || to.wants == from.holds) {
          least = std::min(least, problem_.walk_minutes(place, goal));
        }
        if (!to.wants || with_tool) break;
        for (const auto* past : {&worked_at_[kind], &stand_at_[kind]}) {
          least = std::min(least, way_past(place, *past, kFetch_minutes, goal, to.task));
        }
        break;
      }
    }
  }
  return least;
}

/// What the cheapest tree costs with the charges, less the charges; notes the ways out.
double Lanes::tree_minutes() {
  const size_t count = stops_.size();
  const size_t nodes = count - starts_ + 1;
  cost_.assign(nodes * nodes, kNoWay);
  start_of_.assign(nodes, 0);
  for (size_t to = 1; to < nodes; ++to) {
    const size_t stop = starts_ + to - 1;
    for (size_t start = 0; start < starts_; ++start) {
      const double minutes = ways_[start * count + stop] + charge_[start];
      if (minutes >= cost_[to]) continue;
      cost_[to] = minutes;
      start_of_[to] = start;
    }
    for (size_t from = 1; from < nodes; ++from) {
      cost_[from * nodes + to] =
          ways_[(starts_ + from - 1) * count + stop] + charge_[starts_ + from - 1];
    }
  }
  excess_.assign(count, -1);
  const std::vector<int>& before = tree_.cheapest(cost_);
  if (before.empty()) return kNoWay;
  double minutes = 0;
  for (size_t to = 1; to < nodes; ++to) {
    const auto from = static_cast<size_t>(before[to]);
    minutes += cost_[from * nodes + to];
    ++excess_[from == 0 ? start_of_[to] : starts_ + from - 1];
  }
  for (double charge : charge_) minutes -= charge;
  return minutes;
}

/// Dearer where too many ways go out; cheaper, or even paid for, where there are too few.
void Lanes::charge(double step) {
  for (size_t i = 0; i < charge_.size(); ++i) {
    charge_[i] += step * (kFresh * excess_[i] + (1 - kFresh) * last_excess_[i]);
    if (!goes_on_[i]) charge_[i] = std::max(0.0, charge_[i]);
  }
  last_excess_ = excess_;
}

double Lanes::least_minutes() {
  const size_t count = stops_.size();
  if (count == starts_) return 0;
  const size_t trees = std::clamp<size_t>(kArcs / (count * count), 1, kTrees);
  double best = tree_minutes();
  if (best == kNoWay) return 0;  // somewhere nobody can come: no lanes do all of it
  const double first = kFirstStep * best / static_cast<double>(count);
  for (size_t i = 1; i < trees; ++i) {
    const double left = static_cast<double>(trees - i) / static_cast<double>(trees);
    charge(first * left * left);
    best = std::max(best, tree_minutes());
  }
  return std::max(0.0, best);
}

}  // namespace

double least_walking_minutes(const CrewProblem& problem, const LaneNeeds& needs) {
  return Lanes(problem, needs).least_minutes();
}

}  // namespace chipfall
