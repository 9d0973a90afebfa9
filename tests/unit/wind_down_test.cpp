#include "core/duty/wind_down.h"

#include "core/crew/evening.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include <doctest/doctest.h>

#include "core/duty/minutes.h"
#include "tests/unit/random_shop.h"
#include "tests/unit/small_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

WindDown list_for(const Shop& shop, const ShopState& state, const Session& session) {
  return wind_down(shop, overlay_of(shop), state, session);
}

/// Library duties on a random shop, so that every rule has its text.
Shop random_shop_with_duties(unsigned seed) {
  Shop shop = random_shop(seed);
  shop.duties = builtin_library().duties;
  return shop;
}

const Duty* find(const WindDown& list, const std::string& id) {
  const auto it = std::ranges::find(list.duties, id, &Duty::id);
  return it == list.duties.end() ? nullptr : &*it;
}

}  // namespace

TEST_CASE("more dust never means fewer minutes") {
  for (unsigned seed = 0; seed < 120; ++seed) {
    CAPTURE(seed);
    const Shop shop = random_shop_with_duties(seed);
    const ShopState state = random_state(seed, shop);
    Session session = random_session(seed, shop);
    double before = 0;
    for (double factor : {0.1, 0.3, 1.0, 2.0, 5.0}) {
      Session longer = session;
      for (Use& use : longer.uses) use.minutes *= factor;
      const double minutes = list_for(shop, state, longer).minutes_median;
      CHECK(minutes >= before - 1e-9);
      before = minutes;
    }
    // Another machine's dust on top.
    Use more = session.uses[0];
    more.machine = (more.machine + 1) % static_cast<int>(shop.machines.size());
    session.uses.push_back(more);
    Session without = session;
    without.uses.pop_back();
    CHECK(list_for(shop, state, session).minutes_median >=
          list_for(shop, state, without).minutes_median - 1e-9);
  }
}

TEST_CASE("more capture never means more work") {
  for (unsigned seed = 0; seed < 120; ++seed) {
    CAPTURE(seed);
    Shop shop = random_shop_with_duties(seed);
    // With filters that hold what they catch: a leaky one turns what would have fallen beside the
    // machine into dust that hangs in the air, and that does cost a turn at the filter's timer.
    for (Bin& bin : shop.bins) {
      if (bin.then == kNone) bin.keeps[kFine] = 1;
    }
    const ShopState state = random_state(seed, shop);
    const Session session = random_session(seed, shop);
    const double minutes = list_for(shop, state, session).minutes_median;
    for (Machine& machine : shop.machines) {
      if (machine.collector == kNone) continue;
      for (double& share : machine.capture) share += 0.5 * (1 - share);
    }
    CHECK(list_for(shop, state, session).minutes_median <= minutes + 1e-9);
  }
}

TEST_CASE("a shop that is moved and turned owes the same list") {
  for (unsigned seed = 0; seed < 40; ++seed) {
    CAPTURE(seed);
    const Shop here = random_shop_with_duties(seed);
    const Shop there = moved(here, 0.3 + 0.1 * seed, {120, -45});
    const ShopState state = random_state(seed, here);
    const Session session = random_session(seed, here);
    const WindDown a = list_for(here, state, session);
    const WindDown b = list_for(there, state, session);
    CHECK(a.minutes_median == doctest::Approx(b.minutes_median).epsilon(1e-7));
    REQUIRE(a.duties.size() == b.duties.size());
    for (const Duty& duty : a.duties) {
      CAPTURE(duty.id);
      const Duty* same = find(b, duty.id);
      REQUIRE(same != nullptr);
      CHECK(duty.minutes == doctest::Approx(same->minutes).epsilon(1e-7));
      CHECK(duty.weight == doctest::Approx(same->weight).epsilon(1e-7));
    }
    for (size_t z = 0; z < a.zones.size(); ++z) {
      CHECK(a.zones[z].fallen_g == doctest::Approx(b.zones[z].fallen_g).epsilon(1e-8));
    }
  }
}

TEST_CASE("the order in which the sheet lists zones and machines changes nothing") {
  for (unsigned seed = 0; seed < 40; ++seed) {
    CAPTURE(seed);
    const Shop shop = random_shop_with_duties(seed);
    const Session session = random_session(seed, shop);
    Shop backwards = shop;
    std::ranges::reverse(backwards.zones);
    std::ranges::reverse(backwards.machines);
    Session renumbered = session;
    for (Use& use : renumbered.uses) {
      use.machine = static_cast<int>(shop.machines.size()) - 1 - use.machine;
    }
    const ShopState state = random_state(seed, shop);
    ShopState reversed = state;
    std::ranges::reverse(reversed.zones);
    const WindDown a = list_for(shop, state, session);
    const WindDown b = list_for(backwards, reversed, renumbered);
    REQUIRE(a.duties.size() == b.duties.size());
    for (size_t i = 0; i < a.duties.size(); ++i) {
      CHECK(a.duties[i].id == b.duties[i].id);
      CHECK(a.duties[i].minutes == doctest::Approx(b.duties[i].minutes).epsilon(1e-9));
    }
  }
}

TEST_CASE("the same input gives the same answer to the last bit") {
  const Shop shop = random_shop_with_duties(9);
  const ShopState state = random_state(9, shop);
  const Session session = random_session(9, shop);
  const WindDown a = list_for(shop, state, session);
  const WindDown b = list_for(shop, state, session);
  REQUIRE(a.duties.size() == b.duties.size());
  CHECK(a.minutes_p80 == b.minutes_p80);
  for (size_t i = 0; i < a.duties.size(); ++i) CHECK(a.duties[i].title == b.duties[i].title);
}

TEST_CASE("no duty stands before one that it comes after, and ids are unique") {
  for (unsigned seed = 0; seed < 80; ++seed) {
    CAPTURE(seed);
    const Shop shop = random_shop_with_duties(seed);
    const WindDown list = list_for(shop, random_state(seed, shop), random_session(seed, shop));
    std::set<std::string> done;
    for (const Duty& duty : list.duties) {
      for (const std::string& id : duty.after) CHECK(done.contains(id));
      CHECK(done.insert(duty.id).second);
    }
  }
}

TEST_CASE("ledges come before benches, benches before the floor under them") {
  Shop shop = small_shop();
  ShopState state = clean_state(shop);
  state.zones[index_of(shop.zones, "shelf")][kFine] = 2000;  // near its layer limit
  Session session = small_session();
  const WindDown list = list_for(shop, state, session);
  const auto at = [&](const std::string& id) {
    REQUIRE_MESSAGE(find(list, id) != nullptr, id);
    return find(list, id) - list.duties.data();
  };
  CHECK(at("zone:shelf") < at("zone:saw-table"));
  CHECK(at("zone:saw-table") < at("zone:saw-floor"));
  CHECK(at("reset:saw-1") < at("zone:saw-table"));
}

TEST_CASE("a list is never shorter than the shop's minimum, and says so") {
  const Shop shop = small_shop();
  const WindDown list = list_for(shop, clean_state(shop), Session());
  CHECK(list.minutes_median == shop.policy.minimum_minutes);
  CHECK(list.minimum_applied);
  CHECK(plan_evening(shop, Session(), list).finish.minutes_p80 == shop.policy.minimum_minutes);
}

TEST_CASE("tools down is the leaving time less the minutes of four evenings in five") {
  const Shop shop = small_shop();
  Session session = small_session();
  session.leave_at_minute = 30;  // half past midnight
  const Evening evening = plan_evening(shop, session, list_for(shop, clean_state(shop), session));
  CHECK(*evening.finish.tools_down_by_minute == 30 - std::ceil(evening.finish.minutes_p80 - 1e-9));
  CHECK(evening.finish.minutes_p80 >= evening.finish.minutes_median);
}

TEST_CASE("weights of all zones are shares of the fallen dust, fine dust counting more") {
  const Shop shop = small_shop();
  const WindDown list = list_for(shop, clean_state(shop), small_session());
  double total = 0;
  for (const ZoneCase& zone : list.zones) total += zone.weight;
  CHECK(total == doctest::Approx(1));
}

TEST_CASE("a ledge near its layer limit is raised though nothing was thrown there") {
  const Shop shop = small_shop();
  ShopState state = clean_state(shop);
  const Index shelf = index_of(shop.zones, "shelf");
  const double area = signed_area_m2(shop.zones[shelf].corners);
  state.zones[shelf][kFine] = 0.45 * 953.6 * area;
  CHECK(find(list_for(shop, state, Session()), "zone:shelf") == nullptr);
  state.zones[shelf][kFine] = 0.55 * 953.6 * area;
  CHECK(find(list_for(shop, state, Session()), "zone:shelf") != nullptr);
}
