#include "core/dust/air.h"

#include <cmath>

#include <doctest/doctest.h>

#include "tests/unit/random_shop.h"

using namespace chipfall;
using chipfall::test::Dice;

TEST_CASE("what was emitted is settled, filtered, vented or still up") {
  const std::vector<Emission> emissions{{20, 0, 30, 9, 2}, {5, 25, 25, 20, 1.5}, {7, 40, 60, 4, 3}};
  const AirAccount air = air_account(emissions, {8e-4, 2e-4}, 3.2, 75);
  CHECK(air.settled + air.filtered + air.vented + air.airborne_g() ==
        doctest::Approx(32).epsilon(1e-12));
  CHECK(air.filtered == doctest::Approx(4 * air.vented));
}

TEST_CASE("a finer step by step reckoning comes to the same") {
  const Emission emission{10, 5, 45, 12, 2};
  const AirRates rates{5e-4, 1e-4};
  double up = 0, filtered = 0;
  for (double size_um : size_slices_um(emission.median_um, emission.gsd)) {
    const double settling = settling_m_per_s(size_um, 1000) / 3;
    double grams = 0;
    constexpr double kStep_s = 0.05;
    for (double s = 0; s < 60 * 60; s += kStep_s) {
      const bool on = s >= 5 * 60 && s < 45 * 60;
      filtered += grams * rates.filters * kStep_s;
      grams += kStep_s * ((on ? emission.grams / kSizes / 2400 : 0) -
                          grams * (settling + rates.filters + rates.exhaust));
    }
    up += grams;
  }
  const AirAccount air = air_account({emission}, rates, 3, 60);
  CHECK(air.airborne_g() == doctest::Approx(up).epsilon(1e-3));
  CHECK(air.filtered == doctest::Approx(filtered).epsilon(1e-3));
  CHECK(airborne_g({emission}, rates, 3, 60) == doctest::Approx(air.airborne_g()));
}

TEST_CASE("following single particles gives the same account within its own error") {
  const Emission emission{1, 0, 20, 10, 2};
  const AirRates rates{6e-4, 3e-4};
  const AirAccount air = air_account({emission}, rates, 3, 30);
  Dice dice(3);
  constexpr int kParticles = 100000;
  double settled = 0, filtered = 0, up = 0;
  const auto sizes = size_slices_um(emission.median_um, emission.gsd);
  for (int i = 0; i < kParticles; ++i) {
    const double settling = settling_m_per_s(sizes[i % kSizes], 1000) / 3;
    const double rate = settling + rates.filters + rates.exhaust;
    const double made_s = dice.between(0, 1200);
    const double gone_s = made_s - std::log(1 - dice.between(0, 1)) / rate;
    const double cause = dice.between(0, rate);
    if (gone_s > 1800) {
      up += 1.0 / kParticles;
    } else if (cause < settling) {
      settled += 1.0 / kParticles;
    } else if (cause < settling + rates.filters) {
      filtered += 1.0 / kParticles;
    }
  }
  const auto within = [&](double counted, double p) {
    return std::abs(counted - p) < 4.5 * std::sqrt(p * (1 - p) / kParticles);
  };
  CHECK(within(settled, air.settled));
  CHECK(within(filtered, air.filtered));
  CHECK(within(up, air.airborne_g()));
}

TEST_CASE("clearance leaves exactly the share that it says") {
  const AirAccount air = air_account({{10, 0, 10, 8, 2.5}}, {}, 3, 10);
  const AirRates rates{3e-4, 0};
  const double minutes = clearance_minutes(air, rates, 0.99);
  double left = 0;
  for (size_t i = 0; i < air.airborne.size(); ++i) {
    left += air.airborne[i] * std::exp(-(air.settling_per_s[i] + rates.filters) * 60 * minutes);
  }
  CHECK(left / air.airborne_g() == doctest::Approx(0.01).epsilon(1e-9));
  CHECK(minutes_until_g(air, rates, 0.01 * air.airborne_g()) == doctest::Approx(minutes));
}

TEST_CASE("clean air needs no clearance, and air that nothing clears never clears") {
  CHECK(clearance_minutes({}, {1e-3, 0}, 0.99) == 0);
  AirAccount still;
  still.airborne = {1};
  still.settling_per_s = {0};
  CHECK(std::isinf(clearance_minutes(still, {}, 0.99)));
  CHECK(minutes_until_g(still, {1e-3, 0}, 2) == 0);
}

TEST_CASE("size slices carry the median in their middle and grow with spread") {
  const auto tight = size_slices_um(10, 1);
  for (double size : tight) CHECK(size == doctest::Approx(10));
  const auto wide = size_slices_um(10, 2);
  CHECK(std::sqrt(wide[3] * wide[4]) == doctest::Approx(10));
  CHECK(wide.front() < 4);
  CHECK(wide.back() > 25);
}

TEST_CASE("drag slows large grains and leaves fine dust to Stokes") {
  CHECK(settling_m_per_s(5, 1000) ==
        doctest::Approx(stokes_settling_m_per_s(5, 1000)).epsilon(0.01));
  CHECK(settling_m_per_s(100, 1000) < 0.9 * stokes_settling_m_per_s(100, 1000));
}
