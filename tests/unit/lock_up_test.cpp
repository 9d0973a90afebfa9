#include "core/duty/lock_up.h"

#include <algorithm>
#include <map>
#include <set>

#include <doctest/doctest.h>

#include "core/duty/closing_places.h"
#include "tests/unit/lock_up_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

LockUp list_of(const Shop& shop, const std::vector<PendingDuty>& pending = {},
               const LockUpTonight& tonight = {}) {
  return lock_up(shop, clean_state(shop), pending, tonight);
}

std::vector<const LockUpDuty*> all_of(const LockUp& list, const std::string& standard) {
  std::vector<const LockUpDuty*> out;
  for (const LockUpDuty& line : list.duties) {
    if (line.standard == standard) out.push_back(&line);
  }
  return out;
}

const LockUpDuty& only(const LockUp& list, const std::string& standard) {
  const auto all = all_of(list, standard);
  REQUIRE_MESSAGE(all.size() == 1, standard);
  return *all.front();
}

const LockUpDuty& with_id(const LockUp& list, const std::string& id) {
  const auto it =
      std::ranges::find(list.duties, id, [](const LockUpDuty& line) { return line.duty.id; });
  REQUIRE_MESSAGE(it != list.duties.end(), id);
  return *it;
}

// Their answers point into the list.
std::vector<const LockUpDuty*> all_of(LockUp&&, const std::string&) = delete;
const LockUpDuty& only(LockUp&&, const std::string&) = delete;
const LockUpDuty& with_id(LockUp&&, const std::string&) = delete;

bool comes_after(const LockUpDuty& later, const LockUpDuty& earlier) {
  return std::ranges::count(later.duty.after, earlier.duty.id) > 0;
}

}  // namespace

TEST_CASE("gates a few steps apart are one duty at a real place, a far one is another") {
  Shop shop = shop_to_close();
  shop.gates = {{"g1", "First", 0, 0.1, false, Point{1, 1}},
                {"g2", "Second", 0, 0.1, false, Point{2, 1}},
                {"g3", "Third", 0, 0.1, false, Point{3, 1}},
                {"g4", "Far", 0, 0.1, false, Point{7.5, 5}}};
  const LockUp list = list_of(shop);
  const auto gates = all_of(list, "lock-gates");
  REQUIRE(gates.size() == 2);
  CHECK(gates[0]->duty.steps == std::vector<std::string>{"First", "Second", "Third"});
  CHECK(gates[0]->duty.at == Point{2, 1});
  CHECK(gates[1]->duty.place == "Far");
  CHECK(gates[1]->duty.steps.empty());
  // Three gates take three times as long, and the steps between them.
  CHECK(gates[0]->duty.minutes > 3 * gates[1]->duty.minutes);
}

TEST_CASE("places are joined nearest first, and never beyond the reach") {
  std::vector<ClosingPlace> places;
  for (double x : {0.0, 3.5, 4.5, 8.0}) {
    places.push_back({PlaceKind::kGate, 0, "", "", Point{x, 0}});
  }
  places.push_back({PlaceKind::kGate, 0, "", "", std::nullopt});
  const auto groups = grouped(places, 4);
  REQUIRE(groups.size() == 4);
  CHECK(groups[0].size() == 1);  // 3.5 belongs with 4.5
  CHECK(groups[1].size() == 2);
  CHECK(groups[2].size() == 1);
  CHECK(!groups[3][0].at);
  CHECK(walk_within_minutes(groups[0]) == 0);
  CHECK(walk_within_minutes(groups[1]) > 0);
}

TEST_CASE("a gate is looked for at its own place, else at its machine, else nowhere") {
  const Shop shop = shop_to_close();  // g1 is the saw's, "sweep" a floor inlet without a place
  const LockUp list = list_of(shop);
  const auto gates = all_of(list, "lock-gates");
  REQUIRE(gates.size() == 2);
  CHECK(gates[0]->placed);
  CHECK(gates[0]->duty.at == shop.machines[0].at);
  CHECK(!gates[1]->placed);
}

TEST_CASE("a sheet without gates, collectors, timers or bins has none to see to") {
  Shop shop = shop_to_close();
  shop.gates.clear();
  shop.collectors.clear();
  shop.filters[0].timer_steps_minutes.clear();
  shop.bins.clear();
  shop.machines.clear();
  shop.tools.clear();
  const LockUp list = list_of(shop);
  for (const char* none :
       {"lock-gates", "lock-extraction", "lock-filters", "lock-warm-dust", "lock-scrap"}) {
    CHECK_MESSAGE(all_of(list, none).empty(), none);
  }
}

TEST_CASE("what has no station stands once and without a place, the way out where people come in") {
  const Shop shop = shop_to_close();
  const LockUp list = list_of(shop);
  for (const char* one : {"lock-rags", "lock-hot", "lock-compressor", "lock-trash", "lock-keys",
                          "lock-windows", "lock-doors", "lock-exits", "lock-lights"}) {
    CHECK_MESSAGE(!only(list, one).placed, one);
  }
  CHECK(only(list, "lock-way-out").placed);
  CHECK(only(list, "lock-way-out").duty.at == shop.start);
}

TEST_CASE("a station gives its duty a place and a name") {
  Shop shop = shop_to_close();
  shop.stations.push_back({"oven", "Old heater", PlaceKind::kHeater, {1, 5}});
  shop.stations.push_back({"pot", "Glue pot", PlaceKind::kGluePot, {7, 1}});
  const LockUp list = list_of(shop);
  const auto hot = all_of(list, "lock-hot");
  REQUIRE(hot.size() == 2);
  CHECK(hot[0]->duty.place == "Old heater");
  CHECK(hot[0]->duty.at == Point{1, 5});
  CHECK(hot[1]->duty.place == "Glue pot");
}

TEST_CASE("fans stop before their gates close and before their bins are felt") {
  const LockUp list = list_of(shop_to_close());
  for (const LockUpDuty* off : all_of(list, "lock-extraction")) {
    const bool main = off->duty.id == "lock-extraction:main";
    for (const LockUpDuty* gates : all_of(list, "lock-gates")) {
      CHECK(comes_after(*gates, *off) == main);
    }
  }
  const LockUpDuty& drum = with_id(list, "lock-warm-dust:drum");
  CHECK(comes_after(drum, with_id(list, "lock-extraction:main")));
}

TEST_CASE("a floor swept into an inlet and cleaning with a vac come before the fans stop") {
  const Shop shop = shop_to_close();
  const LockUp list = list_of(shop, {pending_zone(shop, "saw-floor"), pending_zone(shop, "bench")});
  CHECK(comes_after(with_id(list, "lock-extraction:main"), with_id(list, "zone:saw-floor")));
  CHECK(comes_after(with_id(list, "lock-extraction:vac-1"), with_id(list, "zone:bench")));
  CHECK(!comes_after(with_id(list, "lock-extraction:main"), with_id(list, "zone:bench")));
}

TEST_CASE("no bin is opened before its fan is off and somebody has felt it") {
  const Shop shop = shop_to_close();
  const LockUp list = list_of(shop, {pending_bin("bag")});
  const LockUpDuty& emptying = with_id(list, "empty-bin:bag");
  for (const char* first : {"lock-extraction:main", "lock-warm-dust:drum"}) {
    CHECK(comes_after(emptying, with_id(list, first)));
    CHECK(std::ranges::count(emptying.duty.needs, first) == 1);
  }
  CHECK(emptying.duty.caution.find("mask") != std::string::npos);
  CHECK(comes_after(only(list, "lock-trash"), emptying));
}

TEST_CASE("what the building does anyway takes up what a list left open of it") {
  const Shop shop = shop_to_close();
  PendingDuty off;
  off.id = "collector-off:main";
  off.kind = "close";
  off.age_minutes = 90;
  PendingDuty rags = off;
  rags.id = "rags-to-can";
  PendingDuty look = off;
  look.id = "last-look";
  PendingDuty last_night = off;
  last_night.id = "lock-windows";
  const LockUp list = list_of(shop, {off, rags, look, last_night});
  for (const LockUpDuty& line : list.duties) CHECK(line.building);
  CHECK(with_id(list, "lock-extraction:main").from.size() == 1);
  CHECK(with_id(list, "lock-extraction:main").since == "left open 2 h ago");
  CHECK(only(list, "lock-rags").from.size() == 1);
  CHECK(only(list, "lock-lights").from.size() == 1);
  CHECK(only(list, "lock-windows").from.size() == 1);
}

TEST_CASE("what was passed on comes back once, with its reasons and its age") {
  const Shop shop = shop_to_close();
  PendingDuty old = pending_zone(shop, "bench", 3);
  old.passed_on = true;
  old.reason = "no tool";
  old.age_minutes = 3 * 1440;
  PendingDuty fresh = pending_zone(shop, "bench", 5);
  fresh.passed_on = true;
  fresh.reason = "no time";
  const LockUp list = list_of(shop, {fresh, old});
  const LockUpDuty& line = with_id(list, "zone:bench");
  CHECK(line.since == "passed on 3 days ago, on 2 lists by now: no tool, no time");
  CHECK(line.from.size() == 2);
  CHECK(line.from[0].reason == "no tool");
  CHECK(line.duty.why == line.since);
  CHECK(line.duty.place == "Bench");
  CHECK(!line.building);
}

TEST_CASE("tonight's open gates, oily rags and sparks are said where they matter") {
  const Shop shop = shop_to_close();
  LockUpTonight tonight;
  tonight.gates_left_open = {0};
  tonight.oily_rags = true;
  tonight.sparks = true;
  const LockUp list = list_of(shop, {}, tonight);
  CHECK(with_id(list, "lock-gates:g1").duty.place == "g1 (left open)");
  CHECK(only(list, "lock-rags").duty.why.starts_with("Oily rags were in use tonight."));
  for (const LockUpDuty* felt : all_of(list, "lock-warm-dust")) {
    CHECK(felt->duty.why.starts_with("Metal sparks flew tonight."));
  }
  const LockUp quiet = list_of(shop);
  CHECK(with_id(quiet, "lock-gates:g1").duty.place == "g1");
}

TEST_CASE("timers are set to the shortest step that is long enough") {
  const Shop shop = shop_to_close();  // 120 and 240 min
  const auto title = [&](double minutes) {
    LockUpTonight tonight;
    tonight.filter_minutes = minutes;
    const LockUp list = list_of(shop, {}, tonight);
    return only(list, "lock-filters").duty.title;
  };
  CHECK(title(0).find("120 min") != std::string::npos);
  CHECK(title(121).find("240 min") != std::string::npos);
}

TEST_CASE("every safety duty is signed off once, with what to do if it cannot be done") {
  const Shop shop = shop_to_close();
  PendingDuty hot = pending_zone(shop, "bench");
  hot.safety = true;
  const LockUp list = list_of(shop, {hot});
  std::multiset<std::string> signed_off;
  for (const SignOff& check : list.sign_off) {
    CHECK(!check.if_not.empty());
    CHECK(!check.title.empty());
    signed_off.insert(check.duties.begin(), check.duties.end());
  }
  std::multiset<std::string> safety;
  for (const LockUpDuty& line : list.duties) {
    if (line.duty.safety) safety.insert(line.duty.id);
  }
  CHECK(signed_off == safety);
  CHECK(safety.contains("zone:bench"));
  CHECK(safety.contains("lock-warm-dust:drum"));
  const auto warm = std::ranges::find(list.sign_off, "lock-warm-dust", &SignOff::id);
  REQUIRE(warm != list.sign_off.end());
  CHECK(warm->if_not.find("fire service") != std::string::npos);
}

TEST_CASE("a machine that is out of order is a note, not a duty") {
  const Shop shop = shop_to_close();
  ShopState state = clean_state(shop);
  CHECK(lock_up(shop, state, {}, {}).notes.empty());
  state.out_of_order[0] = true;
  const LockUp list = lock_up(shop, state, {}, {});
  REQUIRE(list.notes.size() == 1);
  CHECK(list.notes[0] == "Old saw is out of order: stop released, tag in place?");
}

TEST_CASE("the building's minutes follow the shop's own records, a handed-on duty's stay") {
  const Shop shop = shop_to_close();
  ShopState state = clean_state(shop);
  const std::vector<PendingDuty> pending{pending_zone(shop, "bench")};
  const LockUp plain = lock_up(shop, state, pending, {});
  for (int i = 0; i < 40; ++i) state.finished.push_back({DutyKind::kClose, 1, 3});
  for (int i = 0; i < 40; ++i) state.finished.push_back({DutyKind::kZone, 1, 3});
  const LockUp learned = lock_up(shop, state, pending, {});
  CHECK(only(learned, "lock-rags").duty.minutes > 2 * only(plain, "lock-rags").duty.minutes);
  CHECK(only(learned, "lock-rags").duty.published_minutes == only(plain, "lock-rags").duty.minutes);
  CHECK(with_id(learned, "zone:bench").duty.minutes == with_id(plain, "zone:bench").duty.minutes);
}

TEST_CASE("nothing handed on is lost, and no id stands twice, in any shop") {
  for (unsigned seed = 0; seed < 150; ++seed) {
    CAPTURE(seed);
    const Shop shop = random_shop_to_close(seed);
    Dice dice(seed);
    const std::vector<PendingDuty> pending = random_pending(dice, shop);
    const LockUp list = list_of(shop, pending);
    std::set<std::string> ids;
    size_t settled = 0;
    for (const LockUpDuty& line : list.duties) {
      CHECK(ids.insert(line.duty.id).second);
      CHECK(line.duty.minutes > 0);
      CHECK(line.duty.title.find('{') == std::string::npos);
      CHECK(line.duty.caution.find('{') == std::string::npos);
      settled += line.from.size();
    }
    CHECK(settled == pending.size());
  }
}
