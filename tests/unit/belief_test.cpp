#include "core/bins/belief.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include <doctest/doctest.h>

#include "tests/unit/living_bin.h"

namespace chipfall {
namespace {

using namespace test;

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kHuge = std::numeric_limits<double>::infinity();

bool sound(const Belief& belief) {
  for (const auto& column : belief.mass) {
    if (!std::ranges::all_of(column, [](double mass) { return mass >= 0; })) return false;
  }
  return std::abs(total(belief) - 1) < 1e-9 && std::isfinite(expected_fill(belief)) &&
         expected_fill(belief) <= kMostFill + 1e-9 && std::isfinite(expected_rate(belief)) &&
         chance_full(belief) >= 0 && chance_full(belief) <= 1;
}

TEST_CASE("a bin belief starts with mass 1, the prior's mean rate and any fill up to full") {
  const Belief belief = start();
  CHECK(total(belief) == doctest::Approx(1).epsilon(1e-12));
  CHECK(expected_fill(belief) == doctest::Approx(0.5).epsilon(1e-9));
  CHECK(expected_rate(belief) == doctest::Approx(std::exp(0.125)).epsilon(0.02));
}

TEST_CASE("many small pushes add up to their sum, in mean and in spread") {
  const Belief empty = start(filled(0, 0.02));  // as good as rate factor 1
  for (const double share : {0.0007, 0.003, 0.013}) {
    Belief belief = empty;
    const int pushes = static_cast<int>(0.6 / share);
    for (int i = 0; i < pushes; ++i) belief = pushed(belief, share, 0.5);
    CHECK(expected_fill(belief) == doctest::Approx(share * pushes).epsilon(1e-6));
    const double sd = std::sqrt(pushes * std::expm1(0.25)) * share;
    CHECK(chance_full(belief, share * pushes + 2 * sd) < 0.06);
    CHECK(chance_full(belief, share * pushes - 2 * sd) > 0.94);
    CHECK(chance_full(belief, share * pushes + 0.5 * sd + 0.01) < 0.4);
  }
}

TEST_CASE("a spread whose shapes are kept ready pushes as one beside it that is worked out") {
  for (const double spread : kKeptSpreads) {
    for (const double share : {0.01, 0.05, 0.2}) {
      Belief kept = start(filled(0, 0.3));
      Belief made = kept;
      for (int i = 0; i < 4; ++i) {
        kept = pushed(kept, share, spread);
        made = pushed(made, share, spread - 1e-9);
      }
      CAPTURE(spread);
      CAPTURE(share);
      const auto a = fill_chances(kept);
      const auto b = fill_chances(made);
      double upto_kept = 0, upto_made = 0, furthest = 0;
      for (size_t i = 0; i < a.size(); ++i) {
        upto_kept += a[i];
        upto_made += b[i];
        furthest = std::max(furthest, std::abs(upto_kept - upto_made));
      }
      // Means lie up to 0.7 % beside the nearest kept one; the densest step has a tenth of it all.
      CHECK(furthest < 0.01);
      CHECK(furthest > 0);  // else both went the same way, and nothing was compared
    }
  }
}

TEST_CASE("a push over the brim keeps the chance of having stayed below it") {
  const Belief empty = start(filled(0, 0.02));
  for (const double share : {0.5, 1.0, 1.5, 2.5}) {
    const double median = share * std::exp(-0.18);
    const double chance = 0.5 * std::erfc(std::log(1 / median) / 0.6 * M_SQRT1_2);
    CHECK(chance_full(pushed(empty, share, 0.6)) == doctest::Approx(chance).epsilon(0.02));
  }
}

TEST_CASE("probability is conserved through 100 random histories") {
  for (unsigned seed = 1; seed <= 100; ++seed) {
    Dice dice(seed);
    CHECK(sound(fold(random_events(dice, 30), {}, 400)));
  }
}

TEST_CASE("the three answers of a look sum to 1, and no sighting is ever impossible") {
  for (double fill = 0; fill <= kMostFill; fill += 0.01) {
    const double sum = chance_of(Sighting::kRoom, fill) + chance_of(Sighting::kHalf, fill) +
                       chance_of(Sighting::kFull, fill);
    CHECK(sum == doctest::Approx(1).epsilon(1e-4));
    for (Sighting sighting : kAllSightings) CHECK(chance_of(sighting, fill) > 0.01);
  }
}

TEST_CASE("a full bin that is emptied keeps the rate factor that it taught") {
  Belief belief = pushed(from_empty(), 0.3);
  belief = seen(belief, Sighting::kFull);
  const double learned = expected_rate(belief);
  CHECK(learned > 1.5);
  CHECK(expected_rate(emptied(belief)) == doctest::Approx(learned).epsilon(1e-9));
  CHECK(expected_fill(emptied(belief)) < 0.03);
}

TEST_CASE("years without a word bring the rate factor back to its prior and keep the fill") {
  const Belief taught = seen(pushed(from_empty(), 0.3), Sighting::kFull);
  const Belief waited = drifted(taught, 20 * 365);
  CHECK(expected_rate(waited) == doctest::Approx(expected_rate(start())).epsilon(0.001));
  CHECK(expected_fill(waited) == doctest::Approx(expected_fill(taught)).epsilon(0.001));
  const Belief in_two = drifted(drifted(taught, 100), 265);
  CHECK(expected_rate(in_two) == doctest::Approx(expected_rate(drifted(taught, 365))));
}

TEST_CASE("a sighting against the belief is explained and moves it") {
  Belief belief = pushed(from_empty(), 0.95, 0.2);
  CHECK(explained(belief, Sighting::kRoom, "on Tuesday", "38 L") ==
        "seen with room on Tuesday, though 38 L should have fallen since it was emptied: this bin "
        "fills slower than its machines suggest");
  CHECK(expected_rate(seen(belief, Sighting::kRoom)) < expected_rate(belief));
  belief = pushed(from_empty(), 0.1);
  CHECK(explained(belief, Sighting::kFull, "on Friday", "4 L") ==
        "seen full on Friday, though only 4 L should have fallen since it was emptied: this bin "
        "fills faster than its machines suggest, or something went in that nobody logged");
  CHECK(explained(belief, Sighting::kFull, "", "") ==
        "seen full, sooner than expected: this bin fills faster than its machines suggest, or "
        "something went in that nobody logged");
  CHECK(
      explained(belief, Sighting::kWeakPull, "on Friday", "4 L").find("the filter and the gates") !=
      std::string::npos);
  CHECK(explained(start(), Sighting::kHalf, "on Tuesday", "38 L").empty());  // was to be expected
}

TEST_CASE("full a day after emptied was perhaps the wrong bin, and is believed the second time") {
  Belief belief = seen(pushed(from_empty(), 0.9), Sighting::kFull);
  belief = emptied(belief);
  for (int i = 0; i < 2; ++i) belief = seen(belief, Sighting::kFull);
  CHECK(expected_fill(belief) > 0.8);
}

TEST_CASE("odd input to a bin belief is ignored or clamped and never gives NaN") {
  const Belief belief = pushed(start(), 0.2);
  CHECK(same_bits(pushed(belief, kNan), belief));
  CHECK(same_bits(pushed(belief, -1), belief));
  CHECK(same_bits(drifted(belief, kNan), belief));
  CHECK(same_bits(drifted(belief, -3), belief));
  for (double odd : {kNan, -1.0, 0.0, 1e-300, 1e300, kHuge, -kHuge}) {
    CHECK(sound(start(filled(odd, odd))));
    CHECK(sound(pushed(belief, odd, 0.3)));
    CHECK(sound(pushed(belief, 0.3, odd)));
    CHECK(sound(drifted(belief, odd)));
    CHECK(chance_full(belief, odd) >= 0);
    CHECK(chance_full(belief, odd) <= 1);
    CHECK(chance_of(Sighting::kFull, odd) > 0);
    const std::vector<BinEvent> events{push_event("a", odd, odd, odd), emptied_event("b", odd)};
    CHECK(sound(fold(events, filled(odd, odd), odd)));
    for (const DayLoad& load : rhythm_of(events, -3, 3)) CHECK(std::isfinite(load.mean_share));
  }
  Belief over = belief;
  for (int i = 0; i < 50; ++i) over = pushed(over, 3);
  CHECK(sound(over));
  CHECK(expected_fill(over) > kMostFill - 0.02);
}

}  // namespace
}  // namespace chipfall
