#pragma once

#include "core/crew/crew.h"

/// From an order of work to clock times: who goes where, fetches what, and when each duty ends.
namespace chipfall {

/// What a timetable is made for, with the walks between all its places worked out once for the many
/// that are tried. Refers to its parts, which outlive it.
class CrewProblem {
 public:
  CrewProblem(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& tasks);

  const Shop& shop;
  const Crew& crew;
  const std::vector<CrewTask>& tasks;

  /// Places: each task's, each tool's hook, where each tool stands, where each person does.
  int task_place(Index task) const { return task; }
  int hook_place(Index tool) const { return hooks_ + tool; }
  int tool_place(Index tool) const { return tools_ + tool; }
  int person_place(Index person) const { return people_ + person; }
  double walk_minutes(int from, int to) const {
    return walks_[static_cast<size_t>(from * places_ + to)];
  }
  /// From everywhere to a place, by place; the same as back.
  const double* walks_of(int place) const { return &walks_[static_cast<size_t>(place * places_)]; }
  /// One more than the highest zone of any task.
  size_t zones() const { return zones_; }

 private:
  int hooks_, tools_, people_, places_;
  size_t zones_ = 0;
  std::vector<double> walks_;
};

/// One duty in somebody's evening, minutes from the plan's beginning.
struct Step {
  Index task = kNone;
  double set_out = 0;  ///< leaves the last place
  double start = 0;    ///< begins on the spot
  double end = 0;
  Index tool = kNone;
  bool fetched = false;  ///< the tool was not in hand
};

struct Lane {
  std::vector<Step> steps;
  double home_minute = 0;  ///< done, tools back on their hooks
};

/// Who does each task with what, in which order; enough to work the times out again when tasks
/// turn out longer or shorter.
struct Assignment {
  std::vector<Index> order;
  std::vector<std::vector<Index>> people;  ///< by task
  std::vector<Index> tool;                 ///< by task
};

/// What a timetable comes to.
struct CrewSums {
  double minutes = 0;         ///< until the last one is home
  double walked_minutes = 0;  ///< by all together
  double waited_minutes = 0;  ///< mean end of all tasks
  double urgent_minutes = 0;  ///< sum of the ends of urgent ones
  double unfair_minutes = 0;  ///< unpleasant minutes of who has most, above the mean
};

struct CrewTimetable : CrewSums {
  std::vector<Lane> lanes;      ///< parallel to Crew::people
  std::vector<Index> left_out;  ///< nobody can do them: gone by then, or no such tool
  Assignment assignment;
};

/// Serial generation: each task of `order` goes to whoever can begin it first. A tool stands where
/// it was used last until somebody fetches it; in the end the nearest free person takes it home.
/// Precondition: `order` names each task once, none before one that it comes after.
CrewTimetable schedule(const CrewProblem& problem, const std::vector<Index>& order);

/// The same people, tools and order with other minutes: the time until the last one is home.
double replay_minutes(const CrewProblem& problem, const Assignment& assignment,
                      const std::vector<double>& minutes);

/// As `schedule`, but with the people and tools of each task given.
CrewTimetable schedule_as(const CrewProblem& problem, const Assignment& assignment);

}  // namespace chipfall
