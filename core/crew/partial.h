#pragma once

#include <array>
#include <cstdint>
#include <unordered_map>
#include <vector>

#include "core/crew/project.h"

/// What the exact search (exact.h) knows at one decision point.
namespace chipfall {

/// The exact search takes sets of tasks as the bits of one word.
inline constexpr size_t kMostExactTasks = 64;
using TaskSet = std::uint64_t;

constexpr TaskSet only(int task) { return TaskSet{1} << task; }

/// Calls `each(task)` for the tasks of a set, by number.
template <typename Each>
void for_each_task(TaskSet set, Each each) {
  for (; set != 0; set &= set - 1) each(__builtin_ctzll(set));
}

/// Some tasks are placed; `now` is the end of one of them, or 0; the placed tasks that are not over
/// by now are running. What is not placed starts now or later.
struct PartialTimetable {
  double now = 0;
  TaskSet placed = 0;
  TaskSet running = 0;
  std::array<double, kMostExactTasks> end{};  ///< of the placed tasks
};

/// A project in the form that the search asks for, and bounds on its partial timetables.
class Remaining {
 public:
  /// `tail` as of strong_minutes_to_end in bound.h.
  Remaining(const Project& project, const std::vector<double>& tail);

  /// No completion of the partial timetable ends sooner: chains, work of each resource, and tasks
  /// that pairwise exclude each other, each with the minutes that must follow. Stops looking once
  /// `enough` is reached.
  double bound(const PartialTimetable& at, double enough) const;

  int count() const { return count_; }
  int resources() const { return resources_; }
  TaskSet all() const { return all_; }
  double minutes(int task) const { return minutes_[task]; }
  double tail(int task) const { return tail_[task]; }
  TaskSet after(int task) const { return after_[task]; }
  const int* demand(int task) const { return demand_.data() + task * resources_; }
  const std::vector<int>& capacity() const { return capacity_; }

 private:
  double chain_bound(const PartialTimetable& at) const;
  double work_bound(const PartialTimetable& at) const;
  double exclusion_bound(const PartialTimetable& at, double enough) const;
  double left(const PartialTimetable& at, int task) const;

  int count_;
  int resources_;
  TaskSet all_;
  std::vector<int> capacity_;
  std::vector<double> minutes_;
  std::vector<double> tail_;
  std::vector<double> behind_;  // tail without the task itself
  std::vector<int> demand_;     // by task, then resource; none where a task takes no time
  std::vector<TaskSet> after_;
  std::vector<TaskSet> excludes_;
  std::vector<int> in_order_;      // behind predecessors
  std::vector<int> by_behind_;     // most minutes behind first
  std::vector<int> by_exclusion_;  // those that exclude most first
};

/// Remembers the decision points whose every completion has been searched, and says when another
/// one cannot do better: the same tasks are placed, time is no earlier, and each task that ran at
/// the remembered point was over by now or by its end here.
/// Source: cutset rule of Demeulemeester and Herroelen (1992, 1997).
class SearchedPoints {
 public:
  bool cover(const PartialTimetable& point) const;

  /// The point as it was before anything started at its `now`.
  void keep(const PartialTimetable& point);

 private:
  struct Entry {
    double now = 0;
    TaskSet running = 0;
    std::uint32_t first_end = 0;  // in ends_, one for each running task
    std::uint32_t next = kNone;
  };
  static constexpr std::uint32_t kNone = 0xffffffff;
  bool covers(const Entry& entry, const PartialTimetable& point) const;

  std::vector<Entry> entries_;
  std::vector<double> ends_;
  std::unordered_map<TaskSet, std::uint32_t> first_of_;
};

}  // namespace chipfall
