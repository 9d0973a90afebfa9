#include "core/duty/pending.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include <doctest/doctest.h>

#include "core/duty/say.h"
#include "core/duty/with_pending.h"
#include "tests/unit/lock_up_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

WindDown list_for(const Shop& shop, const Session& session) {
  return wind_down(shop, overlay_of(shop), clean_state(shop), session);
}

const Duty* find(const WindDown& list, const std::string& id) {
  const auto it = std::ranges::find(list.duties, id, &Duty::id);
  return it == list.duties.end() ? nullptr : &*it;
}

std::vector<std::string> sorted(std::vector<std::string> ids) {
  std::ranges::sort(ids);
  return ids;
}

double person_minutes(const Duty& duty) { return duty.people * duty.minutes; }

double own_minutes(const WindDown& list) {
  double sum = 0;
  for (const Duty& duty : list.duties) sum += person_minutes(duty);
  return sum;
}

}  // namespace

TEST_CASE("ages are told roughly") {
  CHECK(say_age(-5) == "just now");
  CHECK(say_age(std::nan("")) == "just now");
  CHECK(say_age(25) == "25 min ago");
  CHECK(say_age(59.8) == "1 h ago");
  CHECK(say_age(130) == "2 h ago");
  CHECK(say_age(1440) == "24 h ago");
  CHECK(say_age(3 * 1440) == "3 days ago");
  CHECK(say_age(35 * 1440) == "5 weeks ago");
}

TEST_CASE("what several lists owe is one duty, safety first, then the oldest") {
  PendingDuty a;
  a.id = "a";
  a.age_minutes = 10;
  a.minutes = 2;
  a.weight = 0.1;
  PendingDuty older = a;
  older.age_minutes = 500;
  older.minutes = 5;
  older.passed_on = true;
  older.reason = "no time";
  PendingDuty b;
  b.id = "b";
  b.age_minutes = 9999;
  PendingDuty safe;
  safe.id = "c";
  safe.safety = true;
  const std::vector<OwedDuty> owed = merged({a, b, older, safe});
  REQUIRE(owed.size() == 3);
  CHECK(owed[0].duty.id == "c");
  CHECK(owed[1].duty.id == "b");
  CHECK(owed[2].duty.id == "a");
  CHECK(owed[2].duty.minutes == 5);
  CHECK(owed[2].duty.age_minutes == 500);
  CHECK(owed[2].since == "passed on 8 h ago, on 2 lists by now: no time");
  CHECK(merged({older, safe, b, a})[2].since == owed[2].since);
}

TEST_CASE("a pending duty finds its place, tool and caution again") {
  const Shop shop = shop_to_close();
  const Duty ledge = duty_of(shop, merged({pending_zone(shop, "bench")})[0]);
  CHECK(ledge.kind == DutyKind::kZone);
  CHECK(ledge.zone == index_of(shop.zones, "bench"));
  CHECK(ledge.tool == index_of(shop.tools, "hose"));
  CHECK(ledge.phase == Phase::kMiddle);
  const Duty bin = duty_of(shop, merged({pending_bin("drum")})[0]);
  CHECK(bin.at == shop.bins[0].at);
  CHECK(bin.phase == Phase::kBins);
  CHECK(bin.caution.find("mask") != std::string::npos);
  CHECK(bin.people == shop.policy.people_per_heavy_bag);  // 200 L, held at arm's length
}

TEST_CASE("no vac for a floor that an earlier list did not vacuum, nor beside a grinder") {
  const Shop shop = shop_to_close();
  PendingDuty swept = pending_zone(shop, "saw-floor");
  swept.title = "Floor round the saw: Sweep";
  CHECK(duty_of(shop, merged({swept})[0]).tool == index_of(shop.tools, "broom"));
  Shop gritty = shop;
  gritty.machines[index_of(gritty.machines, "grinder-1")].at = {3, 3};
  const Duty floor = duty_of(gritty, merged({pending_zone(gritty, "saw-floor")})[0]);
  CHECK(floor.tool == index_of(gritty.tools, "broom"));
  CHECK(floor.caution.find("Metal grit") != std::string::npos);
}

TEST_CASE("what a duty hands on is taken with care") {
  const Shop shop = shop_to_close();
  PendingDuty odd;
  odd.id = "zone:gone";
  odd.kind = "a newer kind";
  odd.zone = "gone";
  for (double minutes : {std::nan(""), -3.0, 0.0, 1e300, HUGE_VAL}) {
    CAPTURE(minutes);
    odd.minutes = minutes;
    odd.weight = minutes;
    odd.age_minutes = minutes;
    const Duty duty = duty_of(shop, merged({odd})[0]);
    CHECK(duty.minutes > 0);
    CHECK(duty.minutes <= kMostPending_minutes);
    CHECK(std::isfinite(duty.weight));
    CHECK(duty.errand_minutes < duty.minutes);
    CHECK(!has_place(duty));
    CHECK(duty.title == "zone:gone");
  }
}

TEST_CASE("a list with nothing pending stays as it is") {
  const Shop shop = shop_to_close();
  const WindDown list = list_for(shop, small_session());
  const WindDown same = with_pending(shop, list, {});
  REQUIRE(same.duties.size() == list.duties.size());
  for (size_t i = 0; i < list.duties.size(); ++i) {
    CHECK(same.duties[i].id == list.duties[i].id);
    CHECK(sorted(same.duties[i].after) == sorted(list.duties[i].after));
    CHECK(sorted(same.duties[i].needs) == sorted(list.duties[i].needs));
  }
  CHECK(same.minutes_median == list.minutes_median);
  CHECK(same.notes == list.notes);
}

TEST_CASE("a zone that the list cleans anyway is not cleaned twice, and says what was passed on") {
  const Shop shop = shop_to_close();
  const WindDown list = list_for(shop, small_session());
  REQUIRE(find(list, "zone:saw-floor") != nullptr);
  PendingDuty floor = pending_zone(shop, "saw-floor");
  floor.passed_on = true;
  floor.reason = "no time";
  PendingDuty common = floor;  // a share of the fine dust in the same zone
  common.id = "common-dust";
  common.kind = "common";
  const WindDown out = with_pending(shop, list, {floor, common});
  CHECK(out.duties.size() == list.duties.size());
  CHECK(find(out, "zone:saw-floor")->why.find("passed on 2 h ago: no time") != std::string::npos);
  CHECK(out.minutes_median == list.minutes_median);
}

TEST_CASE("a short visit gives the rest of the shop's minimum to what others left") {
  const Shop shop = shop_to_close();
  WindDown list = list_for(shop, Session());
  const double own = own_minutes(list);
  REQUIRE(own < shop.policy.minimum_minutes - 4.5);
  const WindDown out = with_pending(shop, list, {pending_zone(shop, "bench", 4.5)});
  CHECK(find(out, "zone:bench") != nullptr);
  CHECK(find(out, "zone:bench")->why == "left open 2 h ago");
  CHECK(out.minutes_median == shop.policy.minimum_minutes);
}

TEST_CASE("of what does not fit, the weightiest and oldest come in, and a note counts the rest") {
  const Shop shop = shop_to_close();
  WindDown list;  // nothing of its own: the shop's minimum of 10 min is the room
  PendingDuty light = pending_zone(shop, "bench", 6);
  light.weight = 0.1;
  PendingDuty heavy = pending_zone(shop, "saw-floor", 6);
  heavy.weight = 0.3;
  WindDown out = with_pending(shop, list, {light, heavy});
  CHECK(find(out, "zone:saw-floor") != nullptr);
  CHECK(find(out, "zone:bench") == nullptr);
  REQUIRE(out.notes.size() == 1);
  CHECK(out.notes[0] == "1 older duty waits for the next list or the closing volunteer.");
  light.age_minutes = 5 * 1440;  // six times its weight by now
  out = with_pending(shop, list, {light, heavy});
  CHECK(find(out, "zone:bench") != nullptr);
  CHECK(find(out, "zone:saw-floor") == nullptr);
}

TEST_CASE("in any shop a session gets its fair share of what is pending and all that is unsafe") {
  int came_in = 0;
  int waited = 0;
  for (unsigned seed = 0; seed < 150; ++seed) {
    CAPTURE(seed);
    const Shop shop = random_shop_to_close(seed);
    Dice dice(seed);
    const std::vector<PendingDuty> pending = random_pending(dice, shop);
    const WindDown list =
        wind_down(shop, overlay_of(shop), random_state(seed, shop), random_session(seed, shop));
    const WindDown out = with_pending(shop, list, pending);
    std::set<std::string> own;
    for (const Duty& duty : list.duties) own.insert(duty.id);
    std::set<std::string> ids;
    std::set<Index> zones;
    double added = 0;
    for (const Duty& duty : out.duties) {
      for (const std::string& id : duty.after) CHECK(ids.contains(id));
      CHECK(ids.insert(duty.id).second);
      if (duty.kind == DutyKind::kZone && duty.zone != kNone) {
        CHECK(zones.insert(duty.zone).second);
      }
      if (own.contains(duty.id)) continue;
      ++came_in;
      CHECK(duty.why.find(" ago") + duty.why.find("just now") != 2 * std::string::npos);
      if (!duty.safety) added += person_minutes(duty);
    }
    const double before = own_minutes(list);
    CHECK(added <= std::max(kPendingShare * before, shop.policy.minimum_minutes - before) + 1e-9);
    for (const std::string& id : own) CHECK(ids.contains(id));
    for (const OwedDuty& owed : merged(pending)) {
      const Duty duty = duty_of(shop, owed);
      const bool settled =
          ids.contains(owed.duty.id) || (duty.kind == DutyKind::kZone && zones.contains(duty.zone));
      if (duty.safety) CHECK(settled);
      waited += !settled;
    }
    CHECK(out.minutes_median >= list.minutes_median - 1e-9);
  }
  CHECK(came_in > 50);
  CHECK(waited > 50);
}

TEST_CASE("the closing volunteer's own duties stay off the member's list") {
  const Shop shop = shop_to_close();
  PendingDuty gates;
  gates.id = "lock-gates:g1";
  gates.safety = true;
  CHECK(with_pending(shop, WindDown(), {gates}).duties.empty());
}
