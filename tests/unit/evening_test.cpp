#include "core/crew/evening.h"

#include <algorithm>
#include <cmath>
#include <fstream>
#include <set>

#include <doctest/doctest.h>

#include "core/crew/now.h"
#include "core/duty/learned.h"
#include "core/duty/minutes.h"
#include "tests/unit/random_shop.h"
#include "tests/unit/small_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

struct Scene {
  Shop shop;
  Session session;
  WindDown list;
};

Scene random_scene(unsigned seed, int people) {
  Scene scene{random_shop(seed), {}, {}};
  scene.shop.duties = builtin_library().duties;
  scene.session = random_session(seed, scene.shop);
  scene.session.people = people;
  scene.session.leave_at_minute = 21 * 60;
  scene.list =
      wind_down(scene.shop, overlay_of(scene.shop), random_state(seed, scene.shop), scene.session);
  return scene;
}

EveningOptions quick() {
  EveningOptions options;
  options.limits.evaluations = 150;
  return options;
}

std::set<std::string> planned(const Evening& evening) {
  std::set<std::string> ids;
  for (const Lane& lane : evening.timetable.lanes) {
    for (const Step& step : lane.steps) ids.insert(evening.list.duties[step.task].id);
  }
  return ids;
}

}  // namespace

TEST_CASE("every duty of the list is in somebody's lane or passed on with a reason") {
  for (unsigned seed = 0; seed < 30; ++seed) {
    CAPTURE(seed);
    const Scene scene = random_scene(seed, 1 + static_cast<int>(seed % 4));
    for (const std::optional<double> within :
         {std::optional<double>(), std::optional<double>(9), std::optional<double>(3)}) {
      EveningOptions options = quick();
      options.within_minutes = within;
      const Evening evening = plan_evening(scene.shop, scene.session, scene.list, options);
      std::set<std::string> all = planned(evening);
      for (const PassedOn& passed : evening.passed_on) {
        CHECK(!passed.reason.empty());
        CHECK(!evening.list.duties[passed.duty].safety);
        CHECK(all.insert(evening.list.duties[passed.duty].id).second);
      }
      CHECK(all.size() == scene.list.duties.size());
      if (within && evening.finish.over_minutes == 0) CHECK(evening.finish.minutes_p80 <= *within);
      if (!within) CHECK(evening.passed_on.empty());
    }
  }
}

TEST_CASE("the finish is never sooner than its bound, nor its 80 % figure than its median") {
  for (unsigned seed = 0; seed < 20; ++seed) {
    CAPTURE(seed);
    const Scene scene = random_scene(seed, 3);
    const Evening evening = plan_evening(scene.shop, scene.session, scene.list, quick());
    CHECK(evening.timetable.minutes >= evening.finish.lower_bound_minutes - 1e-9);
    CHECK(evening.finish.minutes_p80 >= evening.finish.minutes_median);
    CHECK(evening.finish.minutes_median >= scene.shop.policy.minimum_minutes);
    CHECK(*evening.finish.tools_down_by_minute ==
          21 * 60 - std::ceil(evening.finish.minutes_p80 - 1e-9));
  }
}

TEST_CASE("more hands never need to end much later") {
  for (unsigned seed = 0; seed < 15; ++seed) {
    CAPTURE(seed);
    Scene scene = random_scene(seed, 1);
    double before = HUGE_VAL;
    for (int people : {1, 2, 4}) {
      scene.session.people = people;
      const Evening evening = plan_evening(scene.shop, scene.session, scene.list, quick());
      CHECK(evening.finish.minutes_median <= before + 1);
      before = evening.finish.minutes_median;
    }
  }
}

TEST_CASE("one person works down the list as it stands, and it keeps every precedence") {
  for (unsigned seed = 0; seed < 20; ++seed) {
    CAPTURE(seed);
    const Scene scene = random_scene(seed, 1);
    const Evening evening = plan_evening(scene.shop, scene.session, scene.list, quick());
    std::set<std::string> done;
    Index next = 0;
    for (const Step& step : evening.timetable.lanes[0].steps) CHECK(step.task == next++);
    for (const Duty& duty : evening.list.duties) {
      for (const std::string& id : duty.after) CHECK(done.contains(id));
      done.insert(duty.id);
    }
  }
}

TEST_CASE("a full vac holds up nobody while another stands free") {
  Shop shop = random_shop(4);
  shop.tools.push_back({"vac-2", "second vac", ToolKind::kVac, {2, 0.5}, kNone});
  Duty empty;
  empty.id = "empty";
  empty.kind = DutyKind::kBin;
  empty.phase = Phase::kSafe;
  empty.bin = shop.collectors[1].chain[0];
  Duty clean;
  clean.id = "clean";
  clean.kind = DutyKind::kZone;
  clean.tool = 0;
  clean.after = {"empty"};
  Crew crew = crew_of(shop, 2);
  CHECK(crew_tasks(shop, crew, {empty, clean})[0].frees == std::vector<Index>{0});
  CHECK(crew_tasks(shop, crew, {empty, clean})[1].after.empty());
  crew.usable.back() = false;
  CHECK(crew_tasks(shop, crew, {empty, clean})[1].after == std::vector<Index>{0});
}

TEST_CASE("planning anew leaves out what is done and keeps who is at what") {
  const Shop shop = small_shop();
  const Session session = small_session();
  const WindDown list = wind_down(shop, overlay_of(shop), clean_state(shop), session);
  REQUIRE(list.duties.size() >= 4);
  const std::string under_way = "zone:saw-floor";
  const std::string text =
      "clock: \"20:50\"\n"
      "people { name: \"Left hand\" }\n"
      "people { name: \"Right hand\" from_minute: 4 until_minute: 200 }\n"
      "done: \"reset:saw-1\"\n"
      "under_way { duty: \"" +
      under_way + "\" people: \"Left hand\" minutes_left: 2.5 tool: \"hose\" }\n";
  const CrewNow now = loaded(load_crew_now({"now", text}, shop, session, list));
  EveningOptions options = quick();
  options.crew = now.crew;
  options.done = now.done;
  options.begin_minute = now.clock_minute;
  const Evening evening = plan_evening(shop, session, list, options);
  CHECK(!planned(evening).contains("reset:saw-1"));
  const Step& first = evening.timetable.lanes[0].steps.front();
  CHECK(evening.list.duties[first.task].id == under_way);
  CHECK(first.end == 2.5);
  for (const Step& step : evening.timetable.lanes[1].steps) CHECK(step.start >= 4);
  // They want to leave at 21:30: 40 minutes from now.
  CHECK(*evening.finish.within_minutes == 40);
}

TEST_CASE("a crew that meant to be gone keeps to what is for safety, over midnight it has time") {
  const Shop shop = small_shop();
  Session session = small_session();
  const WindDown list = wind_down(shop, overlay_of(shop), clean_state(shop), session);
  EveningOptions options = quick();
  options.begin_minute = *session.leave_at_minute + 5;
  const Evening late = plan_evening(shop, session, list, options);
  CHECK(*late.finish.within_minutes == 0);
  for (const Lane& lane : late.timetable.lanes) {
    for (const Step& step : lane.steps) CHECK(late.list.duties[step.task].safety);
  }
  session.leave_at_minute = 30;
  options.begin_minute = 23 * 60 + 50;
  CHECK(*plan_evening(shop, session, list, options).finish.within_minutes == 40);
}

TEST_CASE("mistakes in the crew's state are all found, with their places") {
  const Shop shop = small_shop();
  const Session session = small_session();
  const WindDown list = wind_down(shop, overlay_of(shop), clean_state(shop), session);
  const std::string text =
      "clock: \"25:00\"\n"
      "people { name: \"One\" }\n"
      "people { name: \"One\" from_minute: 5 until_minute: 2 }\n"
      "done: \"reset:saw-9\"\n"
      "broken_tools: \"hoze\"\n"
      "under_way { duty: \"reset:saw-1\" people: \"Two\" minutes_left: -1 }\n"
      "under_way { duty: \"reset:saw-1\" minutes_left: 1 }\n";
  const Result<CrewNow> now = load_crew_now({"now", text}, shop, session, list);
  REQUIRE(!now.has_value());
  const std::vector<std::pair<int, std::string>> expected{{1, "clock"},
                                                          {3, "people[1].name"},
                                                          {3, "people[1].until_minute"},
                                                          {4, "done[0]"},
                                                          {5, "broken_tools[0]"},
                                                          {6, "under_way[0].minutes_left"},
                                                          {6, "under_way[0].people[0]"},
                                                          {7, "under_way[1].people"},
                                                          {7, "under_way[1].duty"}};
  for (const auto& place : expected) {
    CAPTURE(place.second);
    CHECK(std::ranges::any_of(now.error(), [&](const Error& error) {
      return std::pair(error.place.line, error.place.path) == place;
    }));
  }
}

TEST_CASE("a shop whose people take twice as long gets twice the minutes on the spot") {
  Duty duty;
  duty.kind = DutyKind::kZone;
  duty.minutes = 5;
  duty.errand_minutes = 1;
  std::vector<Duty> duties{duty};
  std::vector<FinishedDuty> finished;
  for (int i = 0; i < 60; ++i) finished.push_back({DutyKind::kZone, 4, 8});
  apply_learned(finished, duties);
  CHECK(duties[0].published_minutes == 5);
  CHECK(duties[0].minutes == doctest::Approx(1 + 8).epsilon(0.05));
  duties = {duty};
  duties[0].kind = DutyKind::kBin;
  apply_learned(finished, duties);
  CHECK(duties[0].minutes == 5);
}
