#include "core/duty/minutes.h"

#include <cmath>

#include <doctest/doctest.h>

#include "core/duty/say.h"
#include "tests/unit/random_shop.h"

using namespace chipfall;
using chipfall::test::Dice;

TEST_CASE("passes wear a load down to its target") {
  for (double pickup : {0.65, 0.9, 0.98}) {
    const double n = passes(500, 5, pickup);
    CHECK(500 * std::pow(1 - pickup, n) == doctest::Approx(5));
  }
  CHECK(passes(5, 5, 0.9) == 1);
  CHECK(passes(0, 5, 0.9) == 1);
  CHECK(passes(6, 5, 0.9) == 1);
}

TEST_CASE("zone minutes never fall when load, area, litres or distance grow") {
  Dice dice(4);
  for (int i = 0; i < 2000; ++i) {
    ZoneWork work;
    const double grams = dice.between(1, 5000);
    work.area_m2 = dice.between(0.1, 40);
    work.load_g_per_m2 = grams / work.area_m2;
    work.target_g_per_m2 = dice.between(0.5, 20);
    work.loose_l = dice.between(0, 100);
    work.method = {ToolKind::kVac, Surface::kConcrete, dice.between(1, 15),
                   dice.between(0.65, 0.99)};
    work.errand = {{0, 0}, {dice.between(0, 9), 1}, {dice.between(0, 9), 3}};
    const double minutes = zone_minutes(work);
    ZoneWork dirtier = work;
    dirtier.load_g_per_m2 *= dice.between(1, 3);
    CHECK(zone_minutes(dirtier) >= minutes);
    // The same grams spread over more floor.
    ZoneWork wider = work;
    wider.area_m2 *= dice.between(1, 3);
    wider.load_g_per_m2 = grams / wider.area_m2;
    CHECK(zone_minutes(wider) >= minutes - 1e-12);
    ZoneWork heavier = work;
    heavier.loose_l += 10;
    CHECK(zone_minutes(heavier) >= minutes);
  }
}

TEST_CASE("walking takes longer the farther, and nothing on the spot") {
  CHECK(walk_minutes(0) == 0);
  double before = 0;
  for (double d = 0.5; d < 200; d *= 1.3) {
    CHECK(walk_minutes(d) > before);
    before = walk_minutes(d);
  }
}

TEST_CASE("four in five evenings take no more than the 80 % figure") {
  Dice dice(8);
  std::normal_distribution<double> normal;
  const double p80 = p80_minutes(12, 0.4);
  int within = 0;
  for (int i = 0; i < 100000; ++i) within += 12 * std::exp(0.4 * normal(dice.engine())) <= p80;
  CHECK(within / 1e5 == doctest::Approx(0.8).epsilon(0.01));
}

TEST_CASE("figures read as people say them, in the shop's units") {
  CHECK(say_mass(85.4, Units::kMetric) == "85 g");
  CHECK(say_mass(1432, Units::kMetric) == "1.4 kg");
  CHECK(say_mass(0, Units::kMetric) == "0 g");
  CHECK(say_mass(0.01, Units::kMetric) == "<0.1 g");
  CHECK(say_mass(85.4, Units::kUs) == "3.0 oz");
  CHECK(say_mass(1432, Units::kUs) == "3.2 lb");
  CHECK(say_length(2.6, Units::kMetric) == "2.6 m");
  CHECK(say_length(2.6, Units::kUs) == "8 ft 6 in");
  CHECK(say_length(0.1, Units::kUs) == "4 in");
  CHECK(say_volume(0.038, Units::kMetric) == "38 L");
  CHECK(say_volume(0.038, Units::kUs) == "10 gal");
  CHECK(say_speed(20.32, Units::kUs) == "4000 fpm");
  CHECK(say_depth(0.8, Units::kMetric) == "0.8 mm");
  CHECK(say_load(5, Units::kUs) == "1.0 lb/1000 ft²");
  CHECK(say_load(953.6, Units::kUs) == "195 lb/1000 ft²");
  CHECK(say_minutes(12.01) == "13 min");
  CHECK(say_half_minutes(0.1) == "½ min");
  CHECK(say_half_minutes(2.4) == "2½ min");
  CHECK(say_half_minutes(3.1) == "3 min");
}

TEST_CASE("texts are filled in, joined and never repeat a sentence") {
  CHECK(fill_in("{a} and {a}", "a", "{a}x") == "{a}x and {a}x");
  CHECK(join({"saw"}) == "saw");
  CHECK(join({"saw", "planer", "lathe"}) == "saw, planer and lathe");
  std::string text = "Machine off. Use a brush.";
  add_sentences("Use a brush. Mind the blade.", text);
  CHECK(text == "Machine off. Use a brush. Mind the blade.");
}
