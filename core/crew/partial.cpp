#include "core/crew/partial.h"

#include <algorithm>
#include <bit>
#include <functional>

namespace chipfall {
namespace {

/// Some 150 bytes each, so 60 MB; beyond it the search goes on without learning more.
constexpr size_t kMostEntries = 400000;

/// Of one set of placed tasks, the latest. More of them cost more time than they save.
constexpr int kMostCompared = 60;

/// For each task, those that may not run beside it: they wait for each other, or take too much.
std::vector<TaskSet> exclusions(const Project& project) {
  const size_t count = project.tasks.size();
  std::vector<TaskSet> before(count, 0);
  std::vector<TaskSet> excludes(count, 0);
  for (const int task : precedence_order(project)) {
    for (const int earlier : project.tasks[task].after) {
      before[task] |= before[earlier] | only(earlier);
    }
    for_each_task(before[task], [&](int earlier) { excludes[earlier] |= only(task); });
    excludes[task] |= before[task];
  }
  for (size_t a = 0; a < count; ++a) {
    for (size_t b = a + 1; b < count; ++b) {
      const Task& left = project.tasks[a];
      const Task& right = project.tasks[b];
      if (left.minutes <= 0 || right.minutes <= 0) continue;
      for (size_t r = 0; r < project.capacity.size(); ++r) {
        if (left.demand[r] + right.demand[r] <= project.capacity[r]) continue;
        excludes[a] |= only(static_cast<int>(b));
        excludes[b] |= only(static_cast<int>(a));
      }
    }
  }
  return excludes;
}

}  // namespace

Remaining::Remaining(const Project& project, const std::vector<double>& tail)
    : count_(static_cast<int>(project.tasks.size())),
      resources_(static_cast<int>(project.capacity.size())),
      all_(count_ == 64 ? ~TaskSet{0} : only(count_) - 1),
      capacity_(project.capacity),
      tail_(tail),
      after_(project.tasks.size(), 0),
      excludes_(exclusions(project)),
      in_order_(precedence_order(project)),
      by_behind_(in_order_),
      by_exclusion_(in_order_) {
  for (int task = 0; task < count_; ++task) {
    const Task& from = project.tasks[task];
    minutes_.push_back(from.minutes);
    behind_.push_back(tail[task] - from.minutes);
    for (const int demand : from.demand) demand_.push_back(from.minutes > 0 ? demand : 0);
    for (const int earlier : from.after) after_[task] |= only(earlier);
  }
  std::ranges::stable_sort(by_behind_, std::greater<>{}, [&](int task) { return behind_[task]; });
  std::ranges::stable_sort(by_exclusion_, [&](int a, int b) {
    const int more = std::popcount(excludes_[a]) - std::popcount(excludes_[b]);
    return more != 0 ? more > 0 : minutes_[a] > minutes_[b];
  });
}

double Remaining::left(const PartialTimetable& at, int task) const {
  return (at.running & only(task)) != 0 ? at.end[task] - at.now : minutes_[task];
}

double Remaining::bound(const PartialTimetable& at, double enough) const {
  double most = chain_bound(at);
  if (most < enough) most = std::max(most, work_bound(at));
  if (most < enough) most = std::max(most, exclusion_bound(at, enough));
  return most;
}

double Remaining::chain_bound(const PartialTimetable& at) const {
  std::array<double, kMostExactTasks> end;
  double most = at.now;
  for (const int task : in_order_) {
    if ((at.placed & only(task)) != 0) {
      end[task] = at.end[task];
      most = std::max(most, end[task] + behind_[task]);
      continue;
    }
    double start = at.now;
    for_each_task(after_[task], [&](int earlier) { start = std::max(start, end[earlier]); });
    end[task] = start + minutes_[task];
    most = std::max(most, start + tail_[task]);
  }
  return most;
}

double Remaining::work_bound(const PartialTimetable& at) const {
  const TaskSet over = at.placed & ~at.running;
  double most = 0;
  for (int r = 0; r < resources_; ++r) {
    double work = 0;
    for (const int task : by_behind_) {
      const int demand = demand_[task * resources_ + r];
      if (demand == 0 || (over & only(task)) != 0) continue;
      work += left(at, task) * demand;
      most = std::max(most, work / capacity_[r] + behind_[task]);
    }
  }
  return at.now + most;
}

double Remaining::exclusion_bound(const PartialTimetable& at, double enough) const {
  const TaskSet open = all_ & ~(at.placed & ~at.running);
  double most = 0;
  for (const int first : by_exclusion_) {
    if ((open & only(first)) == 0) continue;
    TaskSet may = open & excludes_[first];
    double sum = left(at, first);
    double behind = behind_[first];
    most = std::max(most, sum + behind);
    for (const int task : by_exclusion_) {
      if ((may & only(task)) == 0) continue;
      may &= excludes_[task];
      sum += left(at, task);
      behind = std::min(behind, behind_[task]);
    }
    most = std::max(most, sum + behind);
    if (at.now + most >= enough) break;
  }
  return at.now + most;
}

bool SearchedPoints::covers(const Entry& entry, const PartialTimetable& point) const {
  if (entry.now > point.now) return false;
  size_t end = entry.first_end;
  for (TaskSet rest = entry.running; rest != 0; rest &= rest - 1) {
    if (ends_[end++] > std::max(point.now, point.end[std::countr_zero(rest)])) return false;
  }
  return true;
}

bool SearchedPoints::cover(const PartialTimetable& point) const {
  const auto found = first_of_.find(point.placed);
  if (found == first_of_.end()) return false;
  std::uint32_t at = found->second;
  for (int i = 0; i < kMostCompared && at != kNone; ++i) {
    if (covers(entries_[at], point)) return true;
    at = entries_[at].next;
  }
  return false;
}

void SearchedPoints::keep(const PartialTimetable& point) {
  if (entries_.size() >= kMostEntries) return;
  const auto found = first_of_.try_emplace(point.placed, kNone).first;
  entries_.push_back(
      {point.now, point.running, static_cast<std::uint32_t>(ends_.size()), found->second});
  found->second = static_cast<std::uint32_t>(entries_.size() - 1);
  for_each_task(point.running, [&](int task) { ends_.push_back(point.end[task]); });
}

}  // namespace chipfall
