#include "core/duty/bin_outlook.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include <doctest/doctest.h>

#include "core/duty/wind_down.h"
#include "tests/unit/small_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

constexpr double kNow = 20'780.5;  // noon of Monday 23 November 2026

/// Pasts of the small shop's bins, with these events for the drum.
std::vector<BinOutlook> outlooks(const Shop& shop, std::vector<BinEvent> drum) {
  BinPasts pasts;
  pasts.bins.resize(shop.bins.size());
  pasts.bins[index_of(shop.bins, "drum")].events = std::move(drum);
  return bin_outlooks(shop, pasts, kNow);
}

BinOutlook drum_after(std::vector<BinEvent> events) {
  const Shop shop = small_shop();
  return outlooks(shop, std::move(events))[index_of(shop.bins, "drum")];
}

/// Emptied four weeks ago, then so much of the volume on each Tuesday and Friday.
std::vector<BinEvent> month_of(double share) {
  std::vector<BinEvent> events{emptied_event("x", kNow - 28)};
  for (int day = -27; day < 0; ++day) {
    const int weekday = (static_cast<int>(kNow) + day - 4) % 7;  // Monday 0
    if (weekday != 1 && weekday != 4) continue;
    events.push_back(push_event(fmt::format("p{}", day), kNow + day, share));
  }
  return events;
}

}  // namespace

TEST_CASE("a forecast of a bin reads as the shop's days") {
  std::vector<BinEvent> events = month_of(0.1);
  events.push_back(sighting_event("s", kNow - 0.9, Sighting::kHalf));
  const BinOutlook drum = drum_after(events);
  CHECK(drum.known);
  CHECK(drum.evidence == "seen half full yesterday");
  const std::string forecast = say_forecast(drum, kNow);
  CHECK(forecast.starts_with("due by "));
  CHECK(forecast.find(", probably full by ") != std::string::npos);
  CHECK(forecast.find("(9 in 10 by ") != std::string::npos);
  CHECK(*drum.full.days_to_half_chance > 0);
}

TEST_CASE("a bin called full and left is full now, and says since when it is known") {
  std::vector<BinEvent> events = month_of(0.15);
  for (int i = 0; i < 3; ++i) {
    events.push_back(sighting_event(fmt::format("s{}", i), kNow - 2 + 0.1 * i, Sighting::kFull));
  }
  const BinOutlook drum = drum_after(events);
  CHECK(drum.chance_full > 0.5);
  CHECK(say_forecast(drum, kNow).find("full now (") != std::string::npos);
  CHECK(drum.evidence == "seen full on Saturday");
  events.push_back(emptied_event("e", kNow - 1.6));
  CHECK(drum_after(events).evidence == "seen full, then emptied on Saturday");
  CHECK(drum_after(events).chance_full < 0.1);
}

TEST_CASE("a bin that nobody ever looked into is to be looked into, not forecast") {
  const BinOutlook drum = drum_after({push_event("p", kNow - 1, 0.3)});
  CHECK(!drum.known);
  CHECK(drum.look_first);
  CHECK(drum.evidence == "nobody has looked yet");
  CHECK(say_forecast(drum, kNow) == "cannot be said until somebody looks");
}

TEST_CASE("where much more should have fallen than a bin holds, somebody emptied it unsaid") {
  CHECK(!drum_after(month_of(0.2)).look_first);
  CHECK(drum_after(month_of(0.5)).look_first);
}

TEST_CASE("a look that surprises is explained with what should have fallen, in the shop's units") {
  std::vector<BinEvent> events = month_of(0.12);
  events.push_back(sighting_event("s", kNow - 3, Sighting::kRoom));
  const BinOutlook drum = drum_after(events);
  REQUIRE(drum.doubts.size() == 1);
  CHECK(drum.doubts[0].starts_with("seen with room on Friday, though 1"));
  CHECK(drum.doubts[0].find(" L should have fallen since it was emptied: this bin fills slower") !=
        std::string::npos);
  Shop us = small_shop();
  us.policy.units = Units::kUs;
  CHECK(outlooks(us, events)[0].doubts[0].find(" gal should have fallen") != std::string::npos);
}

TEST_CASE("the full bin's mass goes through the lifting equation, and says who carries it") {
  const Shop shop = small_shop();
  const BinOutlook drum = drum_after(month_of(0.1));
  CHECK(drum.full_kg == doctest::Approx(9 + 600 / 2.5 * 0.2));  // tare and loose sawdust
  REQUIRE(drum.lift);
  const double least = std::min(drum.lift->start.product(), drum.lift->end.product());
  CHECK(drum.lift->limit_kg == doctest::Approx(23 * least));
  CHECK(drum.lift->index == doctest::Approx(drum.full_kg / drum.lift->limit_kg));
  CHECK(drum.lift->index > 1);
  CHECK(drum.people == shop.policy.people_per_heavy_bag);
  CHECK(!outlooks(shop, {})[index_of(shop.bins, "tub")].lift);
}

TEST_CASE("bins stand in order of need, those that nobody knows last") {
  const Shop shop = small_shop();
  BinPasts pasts;
  pasts.bins.resize(shop.bins.size());
  pasts.bins[1].events = {sighting_event("a", kNow - 1, Sighting::kHalf)};
  pasts.bins[3].events = {sighting_event("b", kNow - 1, Sighting::kFull)};
  const auto ordered = in_order_of_need(bin_outlooks(shop, pasts, kNow));
  CHECK(ordered[0].bin == 3);
  CHECK(ordered[1].bin == 1);
  CHECK(!ordered[2].known);
}

TEST_CASE("days are said as people say them") {
  CHECK(say_day(kNow, kNow) == "today");
  CHECK(say_day(kNow + 1, kNow) == "tomorrow");
  CHECK(say_day(kNow + 4, kNow) == "Friday");
  CHECK(say_day(kNow + 8, kNow) == "Tuesday 1 December");
  CHECK(say_day(kNow - 7, kNow) == "Monday 16 November");
  CHECK(say_on_day(kNow - 1, kNow) == "yesterday");
  CHECK(say_on_day(kNow - 2, kNow) == "on Saturday");
  CHECK(say_chance(0.72) == "7 in 10");
  CHECK(say_chance(0.99) == "more than 19 in 20");
}

TEST_CASE("a bin that is certainly so full chokes exactly as its fill says") {
  BinState certain;
  for (double fill : {0.0, 0.5, 0.93, 0.97, 1.0, 1.2}) {
    certain.fill_share = fill;
    CHECK(expected_choke(certain, 0.01) == choke_factor(fill + 0.01));
    certain.fills = {{fill, 1}};
    CHECK(expected_choke(certain, 0.01) == choke_factor(fill + 0.01));
    certain.fills.clear();
  }
}

TEST_CASE("a probably full bin makes the ring dirtier and the duties larger") {
  const Shop shop = small_shop();
  const Overlay overlay = overlay_of(shop);
  const Session session = small_session();
  const Index drum = index_of(shop.bins, "drum");
  const auto list_with = [&](const BinState& bin) {
    ShopState state = clean_state(shop);
    state.bins[drum] = bin;
    return wind_down(shop, overlay, state, session);
  };
  std::vector<BinEvent> events = month_of(0.08);
  const BinState likely_half = state_of(drum_after(events));
  events.push_back(sighting_event("s", kNow - 1, Sighting::kFull));
  events.push_back(sighting_event("t", kNow - 0.9, Sighting::kWeakPull));
  const BinState likely_full = state_of(drum_after(events));
  BinState brim;
  brim.fill_share = 1.3;
  BinState empty;
  empty.fill_share = 0;
  const auto fallen = [](const WindDown& list) { return list.dust.balance.on_zones; };
  const WindDown clear = list_with(empty);
  CHECK(fallen(list_with(likely_half)) >= fallen(clear));
  CHECK(fallen(list_with(likely_full)) > 1.05 * fallen(list_with(likely_half)));
  CHECK(fallen(list_with(brim)) > fallen(list_with(likely_full)));
  CHECK(list_with(likely_full).minutes_median > list_with(likely_half).minutes_median);
  // And the state that people write by hand gives what it always gave.
  BinState certain = likely_full;
  certain.fills = {{*certain.fill_share, 1}};
  BinState plain;
  plain.fill_share = certain.fill_share;
  CHECK(fallen(list_with(certain)) == fallen(list_with(plain)));
}
