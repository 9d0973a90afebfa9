#include "core/crew/evening.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/crew/uncertain.h"
#include "core/duty/minutes.h"
#include "core/shop/words.h"

namespace chipfall {
namespace {

/// Joint draws of the minutes; a power of two, as Sobol points like it. 256 of them place the 80 %
/// figure within about 1 %.
constexpr int kDraws = 256;
/// Times that a plan too long for the time given is tried again with less in it.
constexpr int kFits = 8;

/// Of the time given, for what waits for the machines to run out.
constexpr double kRunOnShare = 0.6;

/// Some of the list's duties, planned.
struct Part {
  std::vector<Index> duties;  ///< of the list, ascending
  CrewPlan plan;              ///< tasks are positions in `duties`
  double median = 0;
  double p80 = 0;
};

Crew with_tasks_of(const Crew& crew, const std::vector<Index>& duties) {
  Crew out = crew;
  out.under_way.clear();
  for (UnderWay now : crew.under_way) {
    const auto at = std::ranges::find(duties, now.duty);
    if (at == duties.end()) continue;
    now.duty = static_cast<Index>(at - duties.begin());
    out.under_way.push_back(std::move(now));
  }
  return out;
}

Part plan_part(const Shop& shop, const WindDown& list, const Crew& crew, std::vector<Index> duties,
               const PlanLimits& limits, double within = HUGE_VAL) {
  Part part;
  part.duties = std::move(duties);
  std::vector<Duty> chosen;
  for (Index d : part.duties) chosen.push_back(list.duties[d]);
  const Crew there = with_tasks_of(crew, part.duties);
  std::vector<CrewTask> tasks = crew_tasks(shop, there, chosen);
  // In a hurry a collector runs on for less.
  for (CrewTask& task : tasks)
    task.not_before = std::min(task.not_before, snapped_minutes(kRunOnShare * within));
  part.plan = plan_crew(shop, there, tasks, limits);
  const CrewProblem problem(shop, there, tasks);
  std::vector<double> medians;
  std::vector<double> spreads;
  for (const CrewTask& task : tasks) {
    medians.push_back(task.minutes);
    spreads.push_back(task.spread);
  }
  SampleOptions sampling;
  sampling.draws = kDraws;
  sampling.seed = limits.seed;
  std::vector<double> finishes;
  for (const std::vector<double>& minutes : sample_minutes(medians, spreads, sampling)) {
    finishes.push_back(replay_minutes(problem, part.plan.timetable.assignment, minutes));
  }
  const Quantiles finish = quantiles_of(std::move(finishes));
  // The plan itself is made for the medians; its own end is what people see in the lanes.
  part.median = part.plan.timetable.minutes;
  part.p80 = std::max(part.median, finish.p80);
  return part;
}

std::vector<Index> open_duties(const WindDown& list, const std::vector<std::string>& done) {
  std::vector<Index> open;
  for (size_t d = 0; d < list.duties.size(); ++d) {
    if (std::ranges::find(done, list.duties[d].id) == done.end()) {
      open.push_back(static_cast<Index>(d));
    }
  }
  return open;
}

/// The open duties as the choice under short time sees them.
std::vector<AskedDuty> asked_duties(const Shop& shop, const WindDown& list, const Crew& crew,
                                    const std::vector<Index>& open) {
  std::vector<AskedDuty> asked;
  for (Index d : open) {
    const Duty& duty = list.duties[d];
    AskedDuty ask;
    ask.title = duty.title;
    ask.minutes = snapped_minutes(duty.minutes);
    ask.people = std::min(duty.people, static_cast<int>(crew.people.size()));
    ask.weight = duty.weight;
    // What somebody is at already is not taken from their hands.
    ask.safety = duty.safety || std::ranges::count(crew.under_way, d, &UnderWay::duty) > 0;
    if (duty.tool != kNone) ask.tool = static_cast<int>(shop.tools[duty.tool].kind);
    for (size_t i = 0; i < open.size(); ++i) {
      if (std::ranges::count(duty.needs, list.duties[open[i]].id) > 0) ask.needs.push_back(i);
    }
    asked.push_back(std::move(ask));
  }
  return asked;
}

TimeLeft time_left(const Shop& shop, const Crew& crew, double minutes) {
  TimeLeft left;
  left.minutes = minutes;
  left.people = static_cast<int>(crew.people.size());
  for (const auto& [kind, word] : vocabulary<ToolKind>().words) {
    left.tools.push_back({std::string(word), 0});
  }
  for (size_t t = 0; t < shop.tools.size(); ++t) {
    if (crew.usable[t]) ++left.tools[static_cast<size_t>(shop.tools[t].kind)].count;
  }
  return left;
}

/// Plans what fits the time given; what does not is passed on.
Part plan_within(const Shop& shop, const WindDown& list, const Crew& crew,
                 const std::vector<Index>& open, double within, const PlanLimits& limits,
                 Evening& evening) {
  const std::vector<AskedDuty> asked = asked_duties(shop, list, crew, open);
  double budget = within;
  for (int attempt = 0;; ++attempt) {
    const KeptDuties choice = keep_within(asked, time_left(shop, crew, budget));
    std::vector<Index> kept;
    for (size_t i : choice.kept) kept.push_back(open[i]);
    Part part = plan_part(shop, list, crew, std::move(kept), limits, within);
    const bool nothing_to_give = choice.over_minutes > 0;
    if (part.p80 <= within || nothing_to_give || attempt == kFits) {
      for (const PassedOn& passed : choice.passed_on) {
        evening.passed_on.push_back({static_cast<size_t>(open[passed.duty]), passed.reason});
      }
      evening.finish.over_minutes = std::max(0.0, part.p80 - within);
      return part;
    }
    // The 80 % figure shrinks about as the work does.
    budget *= std::min(0.97, within / part.p80);
  }
}

std::string sharing_of(const WindDown& list, const Part& part, const Crew& crew) {
  if (crew.people.size() < 2) return {};
  int dusty = 0;
  int sharing = 0;
  bool only_those = false;
  for (const Lane& lane : part.plan.timetable.lanes) {
    const auto own = std::ranges::count_if(lane.steps, [&](const Step& step) {
      const Duty& duty = list.duties[part.duties[step.task]];
      return duty.kind == DutyKind::kBin || duty.kind == DutyKind::kFilter ||
             duty.phase == Phase::kHigh;
    });
    dusty += static_cast<int>(own);
    sharing += own > 0;
    only_those |= own > 0 && own == std::ssize(lane.steps);
  }
  if (dusty == 0) return "No bins, filters or ledges tonight: nobody gets the dusty end.";
  const std::string swap = " Swap as you like.";
  if (sharing == 1) return "The dusty end fell to one lane tonight: take turns from time to time.";
  if (only_those) return fmt::format("The dusty jobs are spread over {} lanes.", sharing) + swap;
  return fmt::format("The dusty jobs are spread over {} lanes, and none has only those.", sharing) +
         swap;
}

/// Back from positions in the part to the list's own indices.
CrewTimetable in_list_indices(CrewTimetable timetable, const std::vector<Index>& duties) {
  for (Lane& lane : timetable.lanes) {
    for (Step& step : lane.steps) step.task = duties[step.task];
  }
  for (Index& task : timetable.left_out) task = duties[task];
  for (Index& task : timetable.assignment.order) task = duties[task];
  timetable.assignment.people.clear();
  timetable.assignment.tool.clear();
  return timetable;
}

/// As asked; or, for a crew that is at it already, until it wants to leave.
std::optional<double> time_given(const Session& session, const EveningOptions& options) {
  if (options.within_minutes) return options.within_minutes;
  if (!options.begin_minute || !session.leave_at_minute) return std::nullopt;
  constexpr int kDay_minutes = 1440;
  const int left = *session.leave_at_minute - *options.begin_minute;
  // More than half a day ago means tomorrow; less, that they meant to be gone already.
  if (left < -kDay_minutes / 2) return left + kDay_minutes;
  return std::max(0, left);
}

}  // namespace

Evening plan_evening(const Shop& shop, const Session& session, WindDown list,
                     const EveningOptions& options) {
  Evening evening;
  evening.list = std::move(list);
  evening.crew = options.crew ? *options.crew : crew_of(shop, session.people);
  const std::vector<Index> open = open_duties(evening.list, options.done);
  const std::optional<double> within = time_given(session, options);
  Part part =
      within ? plan_within(shop, evening.list, evening.crew, open, *within, options.limits, evening)
             : plan_part(shop, evening.list, evening.crew, open, options.limits);
  evening.finish.within_minutes = within;
  for (size_t d = 0; d < evening.list.duties.size(); ++d) {
    if (std::ranges::find(open, static_cast<Index>(d)) == open.end()) {
      evening.done.push_back(static_cast<Index>(d));
    }
  }
  evening.sharing = sharing_of(evening.list, part, evening.crew);
  evening.finish.lower_bound_minutes = part.plan.lower_bound_minutes;
  evening.finish.proven = part.plan.proven;
  // Time is only short where somebody said so; otherwise the shop's minimum is given in full.
  const double least = within ? 0 : shop.policy.minimum_minutes;
  evening.finish.minutes_median = std::max(least, part.median);
  evening.finish.minutes_p80 = std::max(least, part.p80);
  if (session.leave_at_minute && !options.begin_minute) {
    evening.finish.tools_down_by_minute =
        *session.leave_at_minute - static_cast<int>(std::ceil(evening.finish.minutes_p80 - 1e-9));
  }
  evening.finish.begin_minute =
      options.begin_minute ? options.begin_minute : evening.finish.tools_down_by_minute;
  evening.timetable = in_list_indices(part.plan.timetable, part.duties);
  for (Index task : evening.timetable.left_out) {
    evening.passed_on.push_back(
        {static_cast<size_t>(task), "nobody with the right tool is there long enough to do it"});
  }
  return evening;
}

}  // namespace chipfall
