#include "core/crew/improve.h"

#include <algorithm>
#include <random>
#include <utility>
#include <vector>

#include "core/crew/serial.h"

namespace chipfall {
namespace {

constexpr size_t kPopulation = 40;
constexpr long kEvaluationsOfChild = 3;  // serial, right, left
constexpr int kPatience = 300;           // children in a row without gain
constexpr double kSwapChance = 0.05;     // of each pair of neighbours in a child

struct Individual {
  std::vector<int> list;
  Timetable timetable;
};

/// std's distributions differ between libraries; these do not.
class Chance {
 public:
  explicit Chance(unsigned long long seed) : engine_(seed) {}
  double share() { return static_cast<double>(engine_() >> 11) * 0x1p-53; }
  size_t below(size_t count) { return static_cast<size_t>(share() * static_cast<double>(count)); }

 private:
  std::mt19937_64 engine_;
};

class Search {
 public:
  Search(const Project& project, const ImproveLimits& limits)
      : project_(project),
        limits_(limits),
        serial_(project),
        justification_(project),
        ahead_(minutes_to_end(project)),
        chance_(limits.seed) {}

  Improved run(std::span<const Timetable> first);

 private:
  bool goes_on() const;
  void judge(std::vector<int> list);
  void admit(const Timetable& timetable, const std::vector<int>& list);
  std::vector<int> random_list();
  std::vector<int> child();
  const Individual& parent();
  void swap_neighbours(std::vector<int>& list);

  const Project& project_;
  const ImproveLimits& limits_;
  Serial serial_;
  Justification justification_;
  std::vector<double> ahead_;
  Chance chance_;
  std::vector<Individual> people_;
  Timetable best_;
  long evaluations_ = 0;
  int without_gain_ = 0;
};

Improved Search::run(std::span<const Timetable> first) {
  best_ = *std::ranges::min_element(first, {}, &Timetable::minutes);
  for (const Timetable& timetable : first) {
    if (goes_on()) judge(list_of(project_, timetable));
  }
  while (goes_on()) {
    if (without_gain_ > kPatience) {
      const Individual kept = *std::ranges::min_element(
          people_, {}, [](const Individual& i) { return i.timetable.minutes; });
      people_.assign(1, kept);
      without_gain_ = 0;
    }
    judge(people_.size() < kPopulation ? random_list() : child());
  }
  return {best_, evaluations_};
}

bool Search::goes_on() const {
  return project_.tasks.size() > 1 && best_.minutes > limits_.enough_minutes &&
         evaluations_ + kEvaluationsOfChild <= limits_.evaluations;
}

void Search::judge(std::vector<int> list) {
  const Timetable& placed = serial_.place(list);
  const Timetable& justified = justification_.justify(placed);
  evaluations_ += kEvaluationsOfChild;
  ++without_gain_;
  if (justified.minutes <= placed.minutes) {
    admit(justified, justification_.list());
  } else {
    admit(placed, list);  // by rounding only
  }
}

void Search::admit(const Timetable& timetable, const std::vector<int>& list) {
  if (timetable.minutes < best_.minutes) {
    best_ = timetable;
    without_gain_ = 0;
  }
  const auto same = [&](const Individual& other) {
    return other.timetable.minutes == timetable.minutes && other.timetable.start == timetable.start;
  };
  if (std::ranges::any_of(people_, same)) {
    // The first ones are let in all the same, or a tiny project would never fill its population.
    if (people_.size() < kPopulation) people_.push_back({list, timetable});
    return;
  }
  if (people_.size() < kPopulation) {
    people_.push_back({list, timetable});
    return;
  }
  const auto worst = std::ranges::max_element(
      people_, {}, [](const Individual& i) { return i.timetable.minutes; });
  if (timetable.minutes <= worst->timetable.minutes) *worst = {list, timetable};
}

std::vector<int> Search::random_list() {
  // Scaled at random between pure chance and nearly the rule of latest starts.
  const double longest = std::max(1e-9, *std::ranges::max_element(ahead_));
  const double noise = longest * (0.2 + 1.3 * chance_.share());
  std::vector<double> rank(ahead_.size());
  for (size_t i = 0; i < rank.size(); ++i) rank[i] = -ahead_[i] + noise * chance_.share();
  return list_by_rank(project_, rank);
}

const Individual& Search::parent() {
  const Individual& one = people_[chance_.below(people_.size())];
  const Individual& other = people_[chance_.below(people_.size())];
  return one.timetable.minutes <= other.timetable.minutes ? one : other;
}

std::vector<int> Search::child() {
  const std::vector<int>& outer = parent().list;
  const std::vector<int>& inner = parent().list;
  size_t from = chance_.below(outer.size() + 1);
  size_t to = chance_.below(outer.size() + 1);
  if (from > to) std::swap(from, to);
  std::vector<int> list(outer.begin(), outer.begin() + static_cast<long>(from));
  std::vector<char> taken(outer.size(), 0);
  for (const int task : list) taken[task] = 1;
  const auto take = [&](int task) {
    if (taken[task] != 0) return;
    taken[task] = 1;
    list.push_back(task);
  };
  for (size_t i = 0; i < inner.size() && list.size() < to; ++i) take(inner[i]);
  for (const int task : outer) take(task);
  swap_neighbours(list);
  return list;
}

void Search::swap_neighbours(std::vector<int>& list) {
  for (size_t i = 0; i + 1 < list.size(); ++i) {
    if (chance_.share() >= kSwapChance) continue;
    const std::vector<int>& after = project_.tasks[list[i + 1]].after;
    if (std::ranges::find(after, list[i]) == after.end()) std::swap(list[i], list[i + 1]);
  }
}

}  // namespace

Improved improve(const Project& project, std::span<const Timetable> first,
                 const ImproveLimits& limits) {
  return Search(project, limits).run(first);
}

}  // namespace chipfall
