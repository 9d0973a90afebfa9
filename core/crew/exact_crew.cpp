#include "core/crew/exact_crew.h"

#include <algorithm>

namespace chipfall {
namespace {

constexpr double kSame_minutes = 1e-9;

class Search {
 public:
  Search(const CrewProblem& problem, double to_beat, long nodes)
      : problem_(problem), tasks_(problem.tasks), best_(to_beat), nodes_(nodes) {
    partial_.people.resize(tasks_.size());
    partial_.tool.assign(tasks_.size(), kNone);
    placed_.assign(tasks_.size(), false);
    for (const UnderWay& now : problem.crew.under_way) placed_[now.duty] = true;
  }

  ExactCrew run() {
    descend();
    out_.exhausted = nodes_ > 0;
    return out_;
  }

 private:
  void descend() {
    if (--nodes_ <= 0) return;
    const CrewTimetable so_far = schedule_as(problem_, partial_);
    // Tools may still be carried on, so the way home of what stands about does not count yet.
    double ends = 0;
    for (const Lane& lane : so_far.lanes) {
      if (!lane.steps.empty()) ends = std::max(ends, lane.steps.back().end);
    }
    if (ends >= best_ - kSame_minutes) return;
    bool complete = true;
    for (size_t i = 0; i < tasks_.size(); ++i) {
      if (placed_[i]) continue;
      complete = false;
      if (ready(tasks_[i])) try_task(static_cast<Index>(i));
    }
    if (complete && so_far.minutes < best_ - kSame_minutes) {
      best_ = so_far.minutes;
      out_.better = partial_;
    }
  }

  bool ready(const CrewTask& task) const {
    return std::ranges::all_of(task.after, [&](Index before) { return placed_[before]; });
  }

  void try_task(Index index) {
    placed_[index] = true;
    partial_.order.push_back(index);
    for (Index tool : tools_for(tasks_[index])) {
      partial_.tool[index] = tool;
      std::vector<Index> people;
      try_people(index, 0, people);
    }
    partial_.order.pop_back();
    placed_[index] = false;
  }

  std::vector<Index> tools_for(const CrewTask& task) const {
    if (!task.tool) return {kNone};
    std::vector<Index> tools;
    for (size_t t = 0; t < problem_.shop.tools.size(); ++t) {
      if (problem_.crew.usable[t] && problem_.shop.tools[t].kind == *task.tool) {
        tools.push_back(static_cast<Index>(t));
      }
    }
    return tools;
  }

  /// Every ordered choice: the first of them brings the tool.
  void try_people(Index index, int chosen, std::vector<Index>& people) {
    if (chosen == tasks_[index].people) {
      partial_.people[index] = people;
      descend();
      return;
    }
    for (size_t p = 0; p < problem_.crew.people.size(); ++p) {
      const Index person = static_cast<Index>(p);
      if (std::ranges::find(people, person) != people.end()) continue;
      people.push_back(person);
      try_people(index, chosen + 1, people);
      people.pop_back();
    }
  }

  const CrewProblem& problem_;
  const std::vector<CrewTask>& tasks_;
  Assignment partial_;
  std::vector<bool> placed_;
  double best_;
  long nodes_;
  ExactCrew out_;
};

}  // namespace

ExactCrew exact_crew(const CrewProblem& problem, double to_beat_minutes, long nodes) {
  return Search(problem, to_beat_minutes, nodes).run();
}

}  // namespace chipfall
