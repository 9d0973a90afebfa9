#include "core/crew/closing.h"

#include <algorithm>
#include <map>
#include <set>

#include "core/duty/minutes.h"

namespace chipfall {
namespace {

/// before[a][b]: duty a comes before duty b, said or following.
using Before = std::vector<std::vector<bool>>;

Before before_table(const std::vector<LockUpDuty>& duties) {
  std::map<std::string, size_t> index;
  for (size_t i = 0; i < duties.size(); ++i) index[duties[i].duty.id] = i;
  Before before(duties.size(), std::vector<bool>(duties.size(), false));
  for (size_t i = 0; i < duties.size(); ++i) {
    for (const std::string& id : duties[i].duty.after) {
      const auto found = index.find(id);
      if (found != index.end()) before[found->second][i] = true;
    }
  }
  for (size_t k = 0; k < duties.size(); ++k) {
    for (size_t i = 0; i < duties.size(); ++i) {
      if (!before[i][k]) continue;
      for (size_t j = 0; j < duties.size(); ++j) before[i][j] = before[i][j] || before[k][j];
    }
  }
  return before;
}

/// The duties with a place as stops; the way out last.
RouteProblem stops_of(const std::vector<LockUpDuty>& duties, const std::vector<size_t>& placed,
                      const Before& before, Point start) {
  RouteProblem problem;
  std::vector<Point> at{start};
  for (size_t d : placed) at.push_back(duties[d].duty.at);
  for (Point from : at) {
    std::vector<double>& row = problem.minutes.emplace_back();
    for (Point to : at) row.push_back(walk_minutes(distance(from, to)));
  }
  for (size_t i = 0; i < placed.size(); ++i) {
    if (duties[placed[i]].closing == Closing::kWayOut) problem.finish = static_cast<int>(i) + 1;
  }
  for (size_t i = 0; i < placed.size(); ++i) {
    for (size_t j = 0; j < placed.size(); ++j) {
      const int later = static_cast<int>(j) + 1;
      if (before[placed[i]][placed[j]] && later != problem.finish) {
        problem.before.emplace_back(static_cast<int>(i) + 1, later);
      }
    }
  }
  return problem;
}

/// Each duty without a place goes in behind the last that it comes after: what makes safe as soon
/// as that is done, the rest just before the first that comes after it.
void put_in_placeless(const std::vector<LockUpDuty>& duties, const Before& before,
                      std::vector<size_t>& order) {
  std::vector<size_t> left;
  for (size_t d = 0; d < duties.size(); ++d) {
    if (!duties[d].placed) left.push_back(d);
  }
  std::ranges::stable_sort(left, {}, [&](size_t d) {
    return std::ranges::count(left, true, [&](size_t other) { return bool(before[other][d]); });
  });
  for (size_t d : left) {
    size_t at = 0;
    size_t latest = order.size();
    for (size_t i = 0; i < order.size(); ++i) {
      // Behind what it waits for, and behind other placeless ones there, in the order of the list.
      const bool waits = before[order[i]][d];
      const bool beside = at == i && !duties[order[i]].placed && !before[d][order[i]];
      if (waits || beside) at = i + 1;
      if (before[d][order[i]]) latest = std::min(latest, i);
    }
    if (duties[d].duty.phase != Phase::kSafe) at = latest;
    order.insert(order.begin() + static_cast<long>(at), d);
  }
}

/// In the order in which one comes past them.
void sort_sign_off(LockUp& list) {
  std::map<std::string, size_t> position;
  for (size_t i = 0; i < list.duties.size(); ++i) position[list.duties[i].duty.id] = i;
  std::ranges::stable_sort(list.sign_off, {}, [&](const SignOff& check) {
    size_t last = 0;
    for (const std::string& id : check.duties) last = std::max(last, position[id]);
    return last;
  });
}

/// Minutes with the walk from the stop before; what has no place is done there. Nobody walks to
/// what is done.
void put_walks(Point start, const std::set<std::string>& done, std::vector<LockUpDuty>& duties) {
  Point here = start;
  for (LockUpDuty& line : duties) {
    if (done.contains(line.duty.id)) continue;
    if (!line.placed) line.duty.at = here;
    line.duty.errand_minutes = walk_minutes(distance(here, line.duty.at));
    line.duty.minutes += line.duty.errand_minutes;
    line.duty.published_minutes += line.duty.errand_minutes;
    here = line.duty.at;
  }
}

}  // namespace

ClosingPlan plan_closing(const Shop& shop, LockUp list, const ClosingOptions& options) {
  ClosingPlan plan;
  const std::vector<LockUpDuty>& duties = list.duties;
  const Crew crew = options.crew ? *options.crew : crew_of(shop, options.people);
  const Point start = crew.people.empty() ? shop.start : crew.people.front().at;
  const Before before = before_table(duties);
  // What is done already is no stop any more.
  const std::set<std::string> done(options.done.begin(), options.done.end());
  std::vector<size_t> placed;
  std::vector<size_t> order;
  for (size_t d = 0; d < duties.size(); ++d) {
    if (duties[d].placed && !done.contains(duties[d].duty.id)) placed.push_back(d);
    if (duties[d].placed && done.contains(duties[d].duty.id)) order.push_back(d);
  }
  const Route route = shortest_route(stops_of(duties, placed, before, start));
  plan.walk_minutes = route.minutes;
  plan.walk_bound_minutes = route.lower_bound_minutes;
  plan.walk_proven = route.proven;
  for (int stop : route.order) order.push_back(placed[stop - 1]);
  put_in_placeless(duties, before, order);
  std::vector<LockUpDuty> sorted;
  for (size_t d : order) sorted.push_back(duties[d]);
  put_walks(start, done, sorted);
  list.duties = std::move(sorted);
  sort_sign_off(list);

  WindDown as_list;
  for (const LockUpDuty& line : list.duties) {
    as_list.duties.push_back(line.duty);
    // A door left open weighs little in dust, and is never what there is no time for.
    as_list.duties.back().safety |= line.building;
  }
  add_up(shop, as_list);
  // The shop's minimum is the member's: a building that is closed is closed.
  Shop closing = shop;
  closing.policy.minimum_minutes = 0;
  Session session;
  session.people = options.people;
  EveningOptions evening;
  evening.crew = crew;
  evening.done = options.done;
  evening.within_minutes = options.within_minutes;
  evening.begin_minute = options.begin_minute;
  evening.limits = options.limits;
  plan.evening = plan_evening(closing, session, std::move(as_list), evening);
  plan.list = std::move(list);
  return plan;
}

}  // namespace chipfall
