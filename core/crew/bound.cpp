#include "core/crew/bound.h"

#include <algorithm>
#include <cmath>
#include <functional>

#include "core/crew/windows.h"

namespace chipfall {
namespace {

/// Where durations have no step, the bisection stops at this share of the known length.
constexpr double kGapWorthClosing = 1e-4;

/// Bounds on what must follow, task by task from the last one.
class Followers {
 public:
  explicit Followers(const Project& project);
  std::vector<double> minutes_to_end();
  double of_all() const;  // after minutes_to_end

 private:
  using Set = std::vector<int>;  // most minutes behind first
  double of(const Set& tasks) const;
  double work_of(const Set& tasks) const;
  double exclusion_of(const Set& tasks) const;
  bool fit_together(int a, int b) const;
  Set in_order(Set tasks) const;

  const Project& project_;
  std::vector<std::vector<char>> follows_;   // [a][b]: b comes after a, straight or not
  std::vector<std::vector<char>> excludes_;  // [a][b]: never at the same time
  std::vector<double> behind_;               // of each task: minutes from its end, at least
};

Followers::Followers(const Project& project)
    : project_(project),
      follows_(project.tasks.size(), std::vector<char>(project.tasks.size(), 0)),
      excludes_(follows_),
      behind_(project.tasks.size(), 0.0) {
  const size_t count = project.tasks.size();
  const std::vector<int> order = precedence_order(project);
  for (auto task = order.rbegin(); task != order.rend(); ++task) {
    for (const int before : project.tasks[*task].after) {
      follows_[before][*task] = 1;
      for (size_t i = 0; i < count; ++i) follows_[before][i] |= follows_[*task][i];
    }
  }
  for (size_t a = 0; a < count; ++a) {
    for (size_t b = 0; b < count; ++b) {
      const bool together = fit_together(static_cast<int>(a), static_cast<int>(b));
      excludes_[a][b] = follows_[a][b] != 0 || follows_[b][a] != 0 || !together ? 1 : 0;
    }
  }
}

bool Followers::fit_together(int a, int b) const {
  const Task& one = project_.tasks[a];
  const Task& other = project_.tasks[b];
  if (one.minutes <= 0 || other.minutes <= 0) return true;
  for (size_t r = 0; r < project_.capacity.size(); ++r) {
    if (one.demand[r] + other.demand[r] > project_.capacity[r]) return false;
  }
  return true;
}

Followers::Set Followers::in_order(Set tasks) const {
  std::ranges::stable_sort(tasks, std::greater<>{}, [&](int task) { return behind_[task]; });
  return tasks;
}

std::vector<double> Followers::minutes_to_end() {
  std::vector<double> to_end(project_.tasks.size(), 0.0);
  const std::vector<int> order = precedence_order(project_);
  for (auto task = order.rbegin(); task != order.rend(); ++task) {
    Set after;
    for (size_t i = 0; i < to_end.size(); ++i) {
      if (follows_[*task][i] != 0) after.push_back(static_cast<int>(i));
    }
    behind_[*task] = of(in_order(after));
    to_end[*task] = project_.tasks[*task].minutes + behind_[*task];
  }
  return to_end;
}

double Followers::of_all() const { return of(in_order(precedence_order(project_))); }

double Followers::of(const Set& tasks) const {
  double chain = 0;
  for (const int task : tasks)
    chain = std::max(chain, project_.tasks[task].minutes + behind_[task]);
  return std::max({chain, work_of(tasks), exclusion_of(tasks)});
}

/// Of the tasks up to each one in the order, all have at least its minutes behind them.
double Followers::work_of(const Set& tasks) const {
  double most = 0;
  for (size_t r = 0; r < project_.capacity.size(); ++r) {
    double work = 0;
    for (const int task : tasks) {
      work += project_.tasks[task].minutes * project_.tasks[task].demand[r];
      if (work > 0) most = std::max(most, work / project_.capacity[r] + behind_[task]);
    }
  }
  return most;
}

/// A set of tasks that pairwise exclude each other runs one by one. Grown from each task in turn by
/// whatever is longest and still excludes them all.
double Followers::exclusion_of(const Set& tasks) const {
  Set longest = tasks;
  std::ranges::stable_sort(longest, std::greater<>{},
                           [&](int task) { return project_.tasks[task].minutes; });
  double most = 0;
  Set chosen;
  for (const int first : longest) {
    chosen.assign(1, first);
    double sum = project_.tasks[first].minutes;
    double behind = behind_[first];
    for (const int task : longest) {
      const auto excluded = [&](int other) { return excludes_[task][other] != 0; };
      if (task == first || !std::ranges::all_of(chosen, excluded)) continue;
      chosen.push_back(task);
      sum += project_.tasks[task].minutes;
      behind = std::min(behind, behind_[task]);
    }
    most = std::max(most, sum + behind);
  }
  return most;
}

/// The least multiple of the step that is not below the minutes, but for rounding.
double up_to_step(double minutes, double step) {
  return step > 0 ? std::ceil(minutes / step - 1e-6) * step : minutes;
}

}  // namespace

double critical_path_minutes(const Project& project) {
  const std::vector<double> to_end = minutes_to_end(project);
  return to_end.empty() ? 0 : *std::ranges::max_element(to_end);
}

double resource_work_minutes(const Project& project) {
  double most = 0;
  for (size_t r = 0; r < project.capacity.size(); ++r) {
    double work = 0;
    for (const Task& task : project.tasks) work += task.minutes * task.demand[r];
    if (work > 0) most = std::max(most, work / project.capacity[r]);
  }
  return most;
}

std::vector<double> strong_minutes_to_end(const Project& project) {
  return Followers(project).minutes_to_end();
}

std::vector<double> strong_minutes_before(const Project& project) {
  std::vector<double> before = strong_minutes_to_end(reversed(project));
  for (size_t i = 0; i < before.size(); ++i) before[i] -= project.tasks[i].minutes;
  return before;
}

double step_minutes(const Project& project) {
  double longest = 0;
  for (const Task& task : project.tasks) longest = std::max(longest, task.minutes);
  double step = 0;
  for (const Task& task : project.tasks) {
    // Euclid; remainders of floating-point division are exact.
    for (double rest = task.minutes; rest > 0;) {
      const double next = std::fmod(step, rest);
      step = rest;
      rest = next;
    }
    if (step < longest * 1e-6) return 0;
  }
  return step;
}

double simple_bound_minutes(const Project& project) {
  Followers followers(project);
  const std::vector<double> to_end = followers.minutes_to_end();
  const std::vector<double> before = strong_minutes_before(project);
  double most = followers.of_all();
  for (size_t i = 0; i < to_end.size(); ++i) most = std::max(most, before[i] + to_end[i]);
  return up_to_step(most, step_minutes(project));
}

double lower_bound_minutes(const Project& project, double known) {
  double low = simple_bound_minutes(project);  // holds
  const double step = step_minutes(project);
  if (low >= known) return std::min(low, known);
  Windows windows(project, strong_minutes_before(project), strong_minutes_to_end(project));
  // The greatest length worth refuting comes first: without it the known one is the shortest.
  double high = step > 0 ? up_to_step(known, step) - step : known * (1 - kSameMinutes);
  if (high < low || !windows.may_end_within(high)) return known;
  const double close = step > 0 ? step : known * kGapWorthClosing;
  for (high -= close; high >= low;) {
    double middle = low + (high - low) / 2;
    if (step > 0) middle = std::floor(middle / step + 1e-6) * step;
    if (windows.may_end_within(middle)) {
      high = middle - close;
    } else {
      low = step > 0 ? middle + step : middle;
      if (step <= 0 && high - low < close) break;
    }
  }
  return std::min(low, known);
}

}  // namespace chipfall
