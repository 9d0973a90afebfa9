#include "core/crew/closing.h"

#include <algorithm>
#include <map>
#include <set>

#include <doctest/doctest.h>

#include "core/duty/minutes.h"
#include "tests/unit/lock_up_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

ClosingPlan plan_for(const Shop& shop, const std::vector<PendingDuty>& pending,
                     const ClosingOptions& options = {}) {
  return plan_closing(shop, lock_up(shop, clean_state(shop), pending, {}), options);
}

ClosingOptions with_people(int people) {
  ClosingOptions options;
  options.people = people;
  options.limits.evaluations = 200;
  return options;
}

std::vector<std::string> ids_of_list(const ClosingPlan& plan) {
  std::vector<std::string> ids;
  for (const LockUpDuty& line : plan.list.duties) ids.push_back(line.duty.id);
  return ids;
}

}  // namespace

TEST_CASE("in any shop the walk keeps the order of need and ends with lights and the way out") {
  for (unsigned seed = 0; seed < 80; ++seed) {
    CAPTURE(seed);
    const Shop shop = random_shop_to_close(seed);
    Dice dice(seed);
    const std::vector<PendingDuty> pending = random_pending(dice, shop);
    const LockUp list = lock_up(shop, clean_state(shop), pending, {});
    const ClosingPlan plan = plan_closing(shop, list, with_people(1));
    REQUIRE(plan.list.duties.size() == list.duties.size());
    std::set<std::string> done;
    for (const LockUpDuty& line : plan.list.duties) {
      for (const std::string& id : line.duty.after) CHECK(done.contains(id));
      CHECK(done.insert(line.duty.id).second);
    }
    CHECK(plan.list.duties.back().closing == Closing::kWayOut);
    Closing latest = Closing::kAnytime;
    for (const LockUpDuty& line : plan.list.duties) {
      if (line.closing < Closing::kLights) CHECK(latest < Closing::kLights);
      latest = std::max(latest, line.closing);
    }
    CHECK(plan.walk_bound_minutes <= plan.walk_minutes + 1e-9);
    CHECK(plan.evening.finish.minutes_p80 >= plan.evening.finish.minutes_median);
    CHECK(plan.evening.finish.lower_bound_minutes <= plan.evening.finish.minutes_median + 1e-9);
    CHECK(plan.evening.passed_on.empty());
  }
}

TEST_CASE("one person does the list in its order, and walks what the list says") {
  const Shop shop = shop_to_close();
  const ClosingPlan plan = plan_for(shop, {pending_bin("tub")});
  REQUIRE(plan.evening.timetable.lanes.size() == 1);
  Index next = 0;
  for (const Step& step : plan.evening.timetable.lanes[0].steps) CHECK(step.task == next++);
  CHECK(next == std::ssize(plan.list.duties));
  double walks = 0;
  Point here = shop.start;
  for (const LockUpDuty& line : plan.list.duties) {
    walks += line.duty.errand_minutes;
    CHECK(line.duty.errand_minutes == walk_minutes(distance(here, line.duty.at)));
    if (!line.placed) CHECK(line.duty.errand_minutes == 0);
    here = line.duty.at;
  }
  CHECK(walks == doctest::Approx(plan.walk_minutes));
  CHECK(here == shop.start);  // the small shop's way out is where people come in
}

TEST_CASE("a few stops are walked the shortest way") {
  Shop shop = shop_to_close();
  shop.duties.clear();
  StandardDuty look;
  look.id = "look";
  look.title = "Look";
  look.when = When::kLockUp;
  look.places = {PlaceKind::kWindow};
  StandardDuty out = look;
  out.id = "out";
  out.places = {PlaceKind::kWayOut};
  shop.duties = {look, out};
  shop.start = {0, 0};
  // Along a wall, listed in disorder, and the way out at its end.
  for (double x : {18.0, 6.0, 24.0, 12.0}) {
    shop.stations.push_back({"w" + std::to_string(x), "", PlaceKind::kWindow, {x, 0}});
  }
  shop.stations.push_back({"out", "", PlaceKind::kWayOut, {30, 0}});
  const ClosingPlan plan = plan_for(shop, {});
  CHECK(plan.walk_proven);
  CHECK(plan.walk_minutes == doctest::Approx(5 * walk_minutes(6)));
  double x = 0;
  for (const LockUpDuty& line : plan.list.duties) {
    CHECK(line.duty.at.x > x);
    x = line.duty.at.x;
  }
}

TEST_CASE("helpers share the list out under the same order of need, and are done sooner") {
  for (unsigned seed = 0; seed < 25; ++seed) {
    CAPTURE(seed);
    const Shop shop = random_shop_to_close(seed);
    Dice dice(seed);
    const std::vector<PendingDuty> pending = random_pending(dice, shop);
    const ClosingPlan alone = plan_for(shop, pending, with_people(1));
    for (int people : {2, 4}) {
      const ClosingPlan plan = plan_for(shop, pending, with_people(people));
      std::map<Index, double> start;
      std::map<Index, double> end;
      for (const Lane& lane : plan.evening.timetable.lanes) {
        for (const Step& step : lane.steps) {
          start[step.task] = step.start;
          end[step.task] = step.end;
        }
      }
      REQUIRE(start.size() == plan.list.duties.size());
      for (size_t i = 0; i < plan.list.duties.size(); ++i) {
        for (size_t j = 0; j < plan.list.duties.size(); ++j) {
          const Duty& later = plan.list.duties[i].duty;
          if (std::ranges::count(later.after, plan.list.duties[j].duty.id) == 0) continue;
          CHECK(start[static_cast<Index>(i)] >= end[static_cast<Index>(j)] - 1e-9);
        }
      }
      CHECK(plan.evening.finish.minutes_median <= alone.evening.finish.minutes_median + 1e-9);
    }
  }
}

TEST_CASE("when time is short the building is closed all the same, and the rest passed on again") {
  const Shop shop = shop_to_close();
  PendingDuty unsafe = pending_zone(shop, "shelf", 5);
  unsafe.safety = true;
  const std::vector<PendingDuty> pending{pending_zone(shop, "bench", 30),
                                         pending_zone(shop, "saw-floor", 30), unsafe};
  ClosingOptions options;
  options.within_minutes = 20;
  const ClosingPlan plan = plan_for(shop, pending, options);
  REQUIRE(!plan.evening.passed_on.empty());
  for (const PassedOn& passed : plan.evening.passed_on) {
    const LockUpDuty& line = plan.list.duties[passed.duty];
    CHECK(!line.building);
    CHECK(!line.duty.safety);
    CHECK(!passed.reason.empty());
  }
  CHECK(plan_for(shop, pending).evening.passed_on.empty());
}

TEST_CASE("what is done already is no stop any more") {
  const Shop shop = shop_to_close();
  const ClosingPlan all = plan_for(shop, {});
  ClosingOptions options;
  options.done = {"lock-gates:g1", "lock-rags"};
  const ClosingPlan left = plan_for(shop, {}, options);
  CHECK(left.evening.done.size() == 2);
  CHECK(left.walk_minutes <= all.walk_minutes + 1e-9);
  CHECK(left.evening.finish.minutes_median < all.evening.finish.minutes_median);
}

TEST_CASE("a lock-up that begins at a time of day has its lanes on the clock") {
  ClosingOptions options;
  options.begin_minute = 21 * 60;
  const ClosingPlan plan = plan_for(shop_to_close(), {}, options);
  CHECK(plan.evening.finish.begin_minute == 21 * 60);
  CHECK(plan.evening.passed_on.empty());
}

TEST_CASE("a shop without lock-up duties and nothing left over has nothing to close") {
  Shop shop = shop_to_close();
  shop.duties.clear();
  const ClosingPlan plan = plan_for(shop, {});
  CHECK(plan.list.duties.empty());
  CHECK(plan.walk_minutes == 0);
  CHECK(plan.evening.finish.minutes_p80 == 0);
}

TEST_CASE("the same evening gives the same lock-up, whatever the order of what is left over") {
  const Shop shop = random_shop_to_close(3);
  Dice dice(3);
  std::vector<PendingDuty> pending = random_pending(dice, shop);
  const ClosingPlan plan = plan_for(shop, pending);
  std::ranges::reverse(pending);
  CHECK(ids_of_list(plan_for(shop, pending)) == ids_of_list(plan));
}
