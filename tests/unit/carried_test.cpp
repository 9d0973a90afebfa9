#include "core/duty/carried.h"

#include <algorithm>
#include <cmath>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "core/dust/layer.h"
#include "core/duty/minutes.h"
#include "core/duty/wind_down.h"
#include "tests/unit/random_shop.h"
#include "tests/unit/small_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

constexpr std::int64_t kDay_ms = 24LL * 60 * 60 * 1000;
constexpr std::int64_t kBegan_ms = 1'780'000'000'000;
constexpr std::int64_t kForEver_ms = kBegan_ms + 10'000 * kDay_ms;

PastEvent event(PastEvent::Kind kind, double day, Index what, const std::string& id) {
  PastEvent out;
  out.id = id;
  out.at_ms = kBegan_ms + static_cast<std::int64_t>(day * static_cast<double>(kDay_ms));
  out.kind = kind;
  out.what = what;
  return out;
}

PastEvent session_on(double day, const Session& session) {
  PastEvent out = event(PastEvent::Kind::kSession, day, kNone, fmt::format("session {}", day));
  out.session = session;
  return out;
}

PastEvent cleaned_on(double day, Index zone) {
  return event(PastEvent::Kind::kZoneCleaned, day, zone, fmt::format("cleaned {} {}", zone, day));
}

double lying_everywhere_g(const Carried& carried) {
  double total = 0;
  for (const CarriedZone& zone : carried.zones) total += sum(zone.lying_g);
  return total;
}

double brought_g(const SessionFall& fall) {
  double total = sum(fall.open_floor) + fall.open_settling_g;
  for (const PerClass& zone : fall.zones) total += sum(zone);
  for (const double settling : fall.settling_g) total += settling;
  return total;
}

/// A room with one ledge over the sander, which nobody ever sweeps.
struct LedgeShop {
  Shop shop = small_shop();
  Overlay overlay = overlay_of(shop);
  Index shelf = index_of(shop.zones, "shelf");
  Session sanding;

  LedgeShop() {
    sanding = small_session();
    sanding.uses.erase(sanding.uses.begin());  // the sander and the grinder stay
    sanding.uses.pop_back();
    sanding.uses[0].minutes = 180;
    sanding.uses[0].extraction = false;
  }
};

}  // namespace

TEST_CASE("what nobody cleans adds up, gram for gram") {
  for (unsigned seed = 0; seed < 40; ++seed) {
    const Shop shop = random_shop(seed);
    const Overlay overlay = overlay_of(shop);
    std::vector<PastEvent> past;
    for (unsigned i = 0; i < 4; ++i) past.push_back(session_on(i, random_session(seed + i, shop)));
    double brought = 0;
    const Carried carried = carry_forward(
        shop, overlay, past, kForEver_ms, [&](const PastEvent& session, const ShopState& found) {
          SessionFall fall =
              fall_of(shop, session.session, dust_of(shop, overlay, found, session.session));
          brought += brought_g(fall);
          return fall;
        });
    REQUIRE(carried.sessions.size() == 4);
    CHECK(brought > 0);
    CHECK(lying_everywhere_g(carried) == doctest::Approx(brought).epsilon(1e-12));
  }
}

TEST_CASE("a cleaned bench keeps the share that its tool leaves, and a floor a little more") {
  const Shop shop = small_shop();
  const Index bench = index_of(shop.zones, "bench");
  const PerClass before{0, 100, 200, 50};
  const double area = 2.5;
  const double bench_passes = passes(sum(before) / area, 2, 0.95);
  const PerClass after = after_cleaning(shop, bench, area, before);
  for (const ChipClass c : kAllClasses) {
    CHECK(after[c] == doctest::Approx(before[c] * std::pow(0.05, bench_passes)).epsilon(1e-12));
  }
  CHECK(sum(after) / area <= 2 * (1 + 1e-9));  // clean, as its zone asks

  const Index floor = index_of(shop.zones, "saw-floor");
  const PerClass swept = after_cleaning(shop, floor, 24, before);
  CHECK(sum(swept) >= (1 - kFloorShareCleaned) * sum(before));
  CHECK(sum(swept) < 0.2 * sum(before));
}

TEST_CASE("cleaning after a session takes it away, cleaning before it does not") {
  const LedgeShop room;
  const Carried before =
      carry_forward(room.shop, room.overlay,
                    {cleaned_on(0, room.shelf), session_on(1, room.sanding)}, kForEver_ms);
  const Carried after =
      carry_forward(room.shop, room.overlay,
                    {cleaned_on(2, room.shelf), session_on(1, room.sanding)}, kForEver_ms);
  const size_t shelf = static_cast<size_t>(room.shelf);
  CHECK(sum(before.zones[shelf].lying_g) > 1);
  // One pass with a borrowed brush, since nothing in this shop is made for a wooden ledge.
  CHECK(sum(after.zones[shelf].lying_g) ==
        doctest::Approx(0.35 * sum(before.zones[shelf].lying_g)).epsilon(1e-9));
  CHECK(after.zones[shelf].cleaned_ms == kBegan_ms + 2 * kDay_ms);
}

TEST_CASE("the order in which the past is told changes nothing, nor does telling it twice") {
  const Shop shop = random_shop(5);
  const Overlay overlay = overlay_of(shop);
  std::vector<PastEvent> past;
  for (unsigned i = 0; i < 6; ++i) past.push_back(session_on(i, random_session(i, shop)));
  for (Index z = 0; z < 6; ++z) past.push_back(cleaned_on(0.5 + z, z));
  past.push_back(event(PastEvent::Kind::kZoneSeen, 3.2, 1, "remark"));
  past.push_back(event(PastEvent::Kind::kBinSeen, 3.4, 0, "emptied"));
  past.push_back(event(PastEvent::Kind::kFilterCleaned, 3.6, 0, "filter"));
  PastEvent common = event(PastEvent::Kind::kCommonDust, 4.1, 2, "common");
  common.minutes = 3;
  past.push_back(common);
  const Carried straight = carry_forward(shop, overlay, past, kForEver_ms);
  Dice dice(7);
  for (int turn = 0; turn < 20; ++turn) {
    std::vector<PastEvent> told = past;
    told.push_back(past[static_cast<size_t>(dice.upto(static_cast<int>(past.size()) - 1))]);
    std::ranges::shuffle(told, dice.engine());
    const Carried shuffled = carry_forward(shop, overlay, told, kForEver_ms);
    for (size_t z = 0; z < straight.zones.size(); ++z) {
      REQUIRE(shuffled.zones[z].lying_g == straight.zones[z].lying_g);
      REQUIRE(shuffled.zones[z].weekly_g == straight.zones[z].weekly_g);
    }
    REQUIRE(shuffled.bin_fill == straight.bin_fill);
    REQUIRE(shuffled.filter_fine_g == straight.filter_fine_g);
  }
}

TEST_CASE(
    "a duty is raised for a ledge that nobody sweeps, before its rate takes it to the limit") {
  const LedgeShop room;
  const size_t shelf = static_cast<size_t>(room.shelf);
  const auto carried_on = [&](int day) {
    std::vector<PastEvent> past;
    for (int d = 0; d < day; d += 2) past.push_back(session_on(d, room.sanding));
    return carry_forward(room.shop, room.overlay, past, kBegan_ms + day * kDay_ms);
  };
  const auto load = [&](const Carried& carried) {
    return limited_g(carried.zones[shelf].lying_g) / carried.zones[shelf].area_m2;
  };
  const Carried early = carried_on(42);
  const double weekly = limited_g(early.zones[shelf].weekly_g) / early.zones[shelf].area_m2;
  REQUIRE(weekly > 0);
  const auto day_at = [&](double limit) {
    return 42 + static_cast<int>(7 * (limit - load(early)) / weekly);
  };
  const int duty_day = day_at(kWatchedShareOfLimit * layer_limit_g_per_m2());
  const int limit_day = day_at(layer_limit_g_per_m2());
  REQUIRE(duty_day > 50);
  CHECK(load(carried_on(limit_day - 8)) < layer_limit_g_per_m2());
  CHECK(load(carried_on(limit_day + 8)) >= layer_limit_g_per_m2());

  // The duty stands on the list of a session that does not touch the shelf at all.
  Session turning = room.sanding;
  turning.uses[0].machine = index_of(room.shop.machines, "lathe-1");
  turning.uses[0].minutes = 5;
  const auto raised_on = [&](int day) {
    const ShopState state = state_of(room.shop, carried_on(day));
    return wind_down(room.shop, room.overlay, state, turning).zones[shelf].raised;
  };
  CHECK_FALSE(raised_on(duty_day - 8));
  CHECK(raised_on(duty_day + 8));
}

TEST_CASE("a zone that is cleaned every other week gains nothing for good, one cleaned once does") {
  const LedgeShop room;
  const size_t shelf = static_cast<size_t>(room.shelf);
  const auto weekly = [&](const std::vector<double>& cleaned) {
    std::vector<PastEvent> past;
    for (int d = 0; d < 90; d += 2) past.push_back(session_on(d, room.sanding));
    for (const double day : cleaned) past.push_back(cleaned_on(day + 0.5, room.shelf));
    const Carried carried = carry_forward(room.shop, room.overlay, past, kBegan_ms + 90 * kDay_ms);
    return sum(carried.zones[shelf].weekly_g);
  };
  CHECK(weekly({10, 24, 38, 52, 66, 80}) == 0);
  CHECK(weekly({10}) > 0);
  CHECK(weekly({10}) == weekly({}));
}

TEST_CASE("a remark that a zone is dirtier raises what lies there and what is expected to fall") {
  const LedgeShop room;
  const size_t shelf = static_cast<size_t>(room.shelf);
  std::vector<PastEvent> past{session_on(0, room.sanding)};
  const Carried unsaid = carry_forward(room.shop, room.overlay, past, kForEver_ms);
  PastEvent remark = event(PastEvent::Kind::kZoneSeen, 1, room.shelf, "remark");
  past.push_back(remark);
  const Carried dirtier = carry_forward(room.shop, room.overlay, past, kForEver_ms);
  CHECK(sum(dirtier.zones[shelf].lying_g) ==
        doctest::Approx(kSeenFactor * sum(unsaid.zones[shelf].lying_g)));
  CHECK(dirtier.zones[shelf].rate_factor > 1);
  CHECK(dirtier.zones[shelf].rate_factor < kSeenFactor);
  past.back().dirtier = false;
  const Carried cleaner = carry_forward(room.shop, room.overlay, past, kForEver_ms);
  CHECK(cleaner.zones[shelf].rate_factor ==
        doctest::Approx(1 / dirtier.zones[shelf].rate_factor).epsilon(1e-12));
}

TEST_CASE(
    "a filter counts the fine dust since it was cleaned, and a bin what went in since emptied") {
  const Shop shop = small_shop();
  const Overlay overlay = overlay_of(shop);
  const size_t tub = static_cast<size_t>(index_of(shop.bins, "tub"));
  const Index vac = index_of(shop.collectors, "vac-1");
  std::vector<PastEvent> past{session_on(0, small_session()), session_on(2, small_session())};
  const Carried both = carry_forward(shop, overlay, past, kForEver_ms);
  const Carried one = carry_forward(shop, overlay, past, kBegan_ms + kDay_ms);
  CHECK(one.bin_fill[tub] > 0);
  CHECK(both.bin_fill[tub] > 1.5 * one.bin_fill[tub]);
  CHECK(both.filter_fine_g[tub] > 1.5 * one.filter_fine_g[tub]);

  past.push_back(event(PastEvent::Kind::kFilterCleaned, 1, vac, "filter"));
  past.push_back(event(PastEvent::Kind::kBinSeen, 1, static_cast<Index>(tub), "emptied"));
  const Carried between = carry_forward(shop, overlay, past, kForEver_ms);
  CHECK(between.bin_fill[tub] == doctest::Approx(one.bin_fill[tub]).epsilon(1e-9));
  CHECK(between.filter_fine_g[tub] == doctest::Approx(one.filter_fine_g[tub]).epsilon(1e-9));
}

TEST_CASE("a choked bin lets more fall on the next session's floor") {
  const Shop shop = small_shop();
  const Overlay overlay = overlay_of(shop);
  const size_t floor = static_cast<size_t>(index_of(shop.zones, "saw-floor"));
  const Index drum = index_of(shop.bins, "drum");
  const auto fallen = [&](double fill) {
    PastEvent seen = event(PastEvent::Kind::kBinSeen, 0, drum, "seen");
    seen.fill = fill;
    const Carried carried =
        carry_forward(shop, overlay, {seen, session_on(1, small_session())}, kForEver_ms);
    return sum(carried.zones[floor].lying_g);
  };
  CHECK(fallen(1) > 1.2 * fallen(0));
}

TEST_CASE("the future is left out, and an empty past leaves a clean shop") {
  const Shop shop = small_shop();
  const Overlay overlay = overlay_of(shop);
  const Carried none = carry_forward(shop, overlay, {}, kBegan_ms);
  CHECK(lying_everywhere_g(none) == 0);
  CHECK(none.zones.size() == shop.zones.size() + 1);
  CHECK(sum(none.zones[0].weekly_g) == 0);
  const Carried later = carry_forward(shop, overlay, {session_on(3, small_session())}, kBegan_ms);
  CHECK(later.sessions.empty());
  CHECK(lying_everywhere_g(later) == 0);
}
