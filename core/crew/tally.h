#pragma once

#include <span>
#include <vector>

#include "core/crew/timetable.h"

namespace chipfall {

/// Who does what with what, in which order, laid out flat for a search that tries thousands.
struct Lineup {
  std::vector<Index> order;   ///< tasks not under way
  std::vector<Index> people;  ///< of all tasks, one after the other; see Tally::first
  std::vector<Index> tool;    ///< by task
};

/// Works out what a line-up costs, as `cost(schedule_as(...))` would, without writing the timetable
/// down: tens of nanoseconds a step.
class Tally {
 public:
  explicit Tally(const CrewProblem& problem);

  Lineup lineup_of(const Assignment& assignment) const;
  Assignment assignment_of(const Lineup& lineup) const;

  /// Where the people of a task stand in Lineup::people.
  std::size_t first(Index task) const { return first_[static_cast<std::size_t>(task)]; }
  std::size_t last(Index task) const { return first_[static_cast<std::size_t>(task) + 1]; }

  /// Infinite where somebody would have left, or a tool never comes free.
  double cost(const Lineup& lineup);
  /// Of the line-up last asked for, where its cost is finite.
  double minutes() const { return minutes_; }

 private:
  struct Hand {
    int at;
    double free;
    Index tool;
    double unpleasant;
    bool busy;
  };
  struct Tool {
    int at;
    double free;
    Index freed_by;
    int hook;
  };

  void open();
  double arrive(Hand& hand, Index tool, int goal);
  void put_down(Index task, std::span<const Index> people, Index tool, double start,
                double minutes);
  double close();

  const CrewProblem& problem_;
  std::vector<std::size_t> first_;
  std::vector<Hand> opening_hands_, hands_;
  std::vector<Tool> opening_tools_, tools_;
  std::vector<double> ends_, zone_free_;
  double walked_ = 0, waited_ = 0, urgent_ = 0, minutes_ = 0;
};

}  // namespace chipfall
