#pragma once

#include <array>
#include <vector>

#include "core/crew/timetable.h"

namespace chipfall {

/// Who does what, in which order, laid out flat for a search that tries tens of thousands. With
/// which tool is not part of it: the one in hand if it is of the kind, else the one that is soonest
/// there.
struct Lineup {
  std::vector<Index> order;   ///< tasks not under way
  std::vector<Index> people;  ///< of all tasks, one after the other; see Tally::first
};

/// Works out what a line-up costs, as `cost(schedule_as(...))` would, without writing the timetable
/// down: some ten nanoseconds a step.
///
/// A line-up is settled on, and others that begin as it does are tried from where they differ, and
/// only until it is certain that they cost more than allowed. Certain it is because what a plan
/// costs only grows: whoever is last is no sooner home than any task and the chain behind it end,
/// and all together no sooner than their time so far, the work left over and the shortest ways
/// there fit into everybody's evening.
class Tally {
 public:
  explicit Tally(const CrewProblem& problem);

  Lineup lineup_of(const Assignment& assignment) const;
  /// Settles on the line-up and names the tools that it takes.
  Assignment assignment_of(const Lineup& lineup);

  /// Where the people of a task stand in Lineup::people.
  std::size_t first(Index task) const { return flat_[static_cast<std::size_t>(task)].people; }
  std::size_t last(Index task) const {
    return first(task) + flat_[static_cast<std::size_t>(task)].count;
  }

  /// Settles on a line-up; the same up to `from` as the one settled on before. Infinite where
  /// somebody would have left, or a tool is missing or never comes free.
  double settle(const Lineup& lineup, std::size_t from = 0);
  /// What another costs that is the same up to `from` as the one settled on; infinite as soon as it
  /// is certain to cost more than `most`.
  double cost(const Lineup& lineup, std::size_t from, double most);
  /// Of the line-up last worked out, where its cost is finite.
  double minutes() const { return minutes_; }

 private:
  /// A task with all that a step needs of it side by side.
  struct Flat {
    double minutes, not_before;
    double chain;       ///< minutes of what must come behind it, one after the other
    double first_way;   ///< at least, of who brings the tool
    double other_ways;  ///< at least, of those who help
    std::size_t people, count;
    std::size_t after, after_end;  ///< in after_
    Index zone;
    int kind;  ///< of its tool, or kNone
    bool unpleasant, urgent;
  };
  struct Hand {
    double free;
    double unpleasant;
    int at;
    Index tool;
    bool busy;
  };
  struct Tool {
    double free;
    int at;
  };
  /// What has been added up over the steps so far, and what is left of them.
  struct Sums {
    double spent = 0;  ///< minutes of all together
    double walked = 0, waited = 0, urgent = 0;
    double work_left = 0, ways_left = 0;  ///< of people, at least
    double last = 0;                      ///< the end of a task and of the chain behind it
  };
  struct Way {
    double arrive, walk;
    Index tool;
  };

  void flatten(const std::vector<CrewTask>& tasks);
  void find_least_ways();
  void open();
  void load(std::size_t step);
  void save(std::size_t step);
  Way come(const Hand& hand, const Flat& flat, const double* walks) const;
  void take(const Lineup& lineup, Index task);
  void put_down(Index task, const Index* people, Index tool, double start, double minutes);
  double at_least() const;
  double close();

  const CrewProblem& problem_;
  std::vector<Flat> flat_;
  std::vector<Index> after_;
  std::array<std::vector<Index>, kToolKinds> usable_;  ///< tools by kind
  std::vector<int> kinds_;                             ///< by tool
  std::vector<Index> freed_by_;                        ///< by tool
  bool any_freed_ = false;
  double share_ = 1, mean_ = 1;  ///< one of the people, of the tasks

  std::vector<Hand> hands_, kept_hands_;  ///< now; after each step of the line-up settled on
  std::vector<Tool> tools_, kept_tools_;
  std::vector<double> zone_free_, kept_zone_free_;
  Sums sums_;
  std::vector<Sums> kept_sums_;
  std::vector<double> ends_, kept_ends_;  ///< by task
  std::vector<Index> taken_;              ///< tool by task, of the line-up settled on
  Index tool_taken_ = kNone;              ///< in the last step
  double minutes_ = 0;
};

}  // namespace chipfall
