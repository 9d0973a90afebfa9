#include "core/bins/history.h"

#include <algorithm>
#include <cstring>

#include <doctest/doctest.h>

#include "core/bins/forecast.h"
#include "tests/unit/living_bin.h"

namespace chipfall {
namespace {

using namespace test;

TEST_CASE("any order of arrival gives the same belief, bit for bit") {
  for (unsigned seed = 1; seed <= 40; ++seed) {
    Dice dice(seed);
    std::vector<BinEvent> events = random_events(dice, 25);
    const Belief straight = fold(events);
    const Rhythm rhythm = rhythm_of(events, 0, 10);
    std::shuffle(events.begin(), events.end(), dice.engine());
    CHECK(same_bits(fold(events), straight));
    const Rhythm other = rhythm_of(events, 0, 10);
    CHECK(std::memcmp(&rhythm, &other, sizeof rhythm) == 0);
  }
}

TEST_CASE("late evidence takes its place in time") {
  std::vector<BinEvent> events{push_event("a", 1, 0.5), push_event("b", 3, 0.2)};
  const Belief without = fold(events);
  events.push_back(emptied_event("late", 2));
  const Belief with = fold(events);
  CHECK(expected_fill(with) < 0.3);
  CHECK(expected_fill(without) > 0.8);
  CHECK(same_bits(with, fold({events[0], events[2], events[1]})));
}

TEST_CASE("the same bin event twice counts once, even when its copies differ") {
  const std::vector<BinEvent> once{push_event("a", 1, 0.2), push_event("b", 2, 0.3)};
  const std::vector<BinEvent> twice{once[1], once[0], once[1], push_event("b", 2, 0.9)};
  CHECK(same_bits(fold(once), fold(twice)));
  CHECK(in_event_order(twice).size() == 2);
}

TEST_CASE("who empties a bin looked first, also when both carry the same time") {
  const std::vector<BinEvent> events{emptied_event("a", 1),
                                     sighting_event("b", 1, Sighting::kFull)};
  CHECK(expected_fill(fold(events)) < 0.05);
}

TEST_CASE("a rhythm finds the busy weekday, quiet days and nothing in an empty past") {
  std::vector<BinEvent> events;
  for (int week = 0; week < 8; ++week) {
    events.push_back(push_event(label("w", week), 7 * week + 2.5, 0.2));
  }
  const Rhythm rhythm = rhythm_of(events, 0, 55);
  CHECK(rhythm[2].mean_share == doctest::Approx(0.19).epsilon(0.02));
  CHECK(rhythm[3].mean_share < 0.003);
  double week = 0;
  for (const DayLoad& load : rhythm) week += load.mean_share;
  CHECK(week == doctest::Approx(0.2));
  for (const DayLoad& load : rhythm_of({}, 0, 55)) CHECK(load.mean_share == 0);
  CHECK(rhythm_of(events, 5, 4)[2].mean_share == 0);
}

TEST_CASE("a forecast says never where nothing falls, and now where it is full already") {
  CHECK(forecast(from_empty(), Rhythm{}, 3) == Forecast{});
  CHECK(forecast(start(filled(1.2)), Rhythm{}, 3) == Forecast{0, 0});
}

TEST_CASE("an earlier limit is never forecast later") {
  Rhythm rhythm;
  rhythm.fill({0.04, 0.5});
  const Forecast brim = forecast(from_empty(), rhythm, -5);
  const Forecast early = forecast(from_empty(), rhythm, -5, 0.75);
  CHECK(*early.days_to_half_chance < *brim.days_to_half_chance);
  CHECK(*early.days_to_nine_in_ten < *brim.days_to_nine_in_ten);
  CHECK(*brim.days_to_half_chance < *brim.days_to_nine_in_ten);
}

}  // namespace
}  // namespace chipfall
