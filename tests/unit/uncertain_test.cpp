#include "core/crew/uncertain.h"

#include <cmath>
#include <numeric>
#include <random>

#include <doctest/doctest.h>

#include "core/duty/minutes.h"

namespace chipfall {
namespace {

using Draws = std::vector<std::vector<double>>;

std::vector<double> of_duty(const Draws& draws, size_t duty) {
  std::vector<double> minutes;
  for (const auto& draw : draws) minutes.push_back(draw[duty]);
  return minutes;
}

std::vector<double> sums(const Draws& draws) {
  std::vector<double> total;
  for (const auto& draw : draws) total.push_back(std::accumulate(draw.begin(), draw.end(), 0.0));
  return total;
}

/// An evening's list: short and long duties, spreads as in checklists/.
struct Evening {
  std::vector<double> medians;
  std::vector<double> spreads;
};

Evening evening(size_t duties) {
  std::mt19937_64 random(7);
  Evening made;
  for (size_t i = 0; i < duties; ++i) {
    made.medians.push_back(1 + static_cast<double>(random() % 100) / 10);
    made.spreads.push_back(0.2 + static_cast<double>(random() % 30) / 100);
  }
  return made;
}

/// The same evenings drawn by plain random numbers, so many that their own error is some 0.3 %.
Quantiles plainly(const Evening& list, double share) {
  std::mt19937_64 random(99);
  std::normal_distribution<double> normal;
  std::vector<double> totals(30000);
  for (double& total : totals) {
    const double common = normal(random);
    for (size_t i = 0; i < list.medians.size(); ++i) {
      const double z = std::sqrt(share) * common + std::sqrt(1 - share) * normal(random);
      total += list.medians[i] * std::exp(list.spreads[i] * z);
    }
  }
  return quantiles_of(totals);
}

/// Root mean square over the duties, in spreads, of how far median and 80 % figure are off.
double off(const Evening& list, const SampleOptions& options) {
  const Draws draws = sample_minutes(list.medians, list.spreads, options);
  double squares = 0;
  for (size_t i = 0; i < list.medians.size(); ++i) {
    const Quantiles found = quantiles_of(of_duty(draws, i));
    const double exact_p80 = p80_minutes(list.medians[i], list.spreads[i]);
    squares += std::pow(std::log(found.median / list.medians[i]) / list.spreads[i], 2) / 2;
    squares += std::pow(std::log(found.p80 / exact_p80) / list.spreads[i], 2) / 2;
  }
  return std::sqrt(squares / static_cast<double>(list.medians.size()));
}

TEST_CASE("each duty's median and 80 % figure come out of its draws") {
  for (const std::uint64_t seed : {1, 2, 3, 4, 5}) {
    CAPTURE(seed);
    for (const size_t duties : {1, 12, 60, 200}) {
      CAPTURE(duties);
      // One draw in each of 256 cells: only the cell's width is left.
      CHECK(off(evening(duties), {256, seed, 0}) < 0.006);
      CHECK(off(evening(duties), {256, seed, 1}) < 0.006);
      // Shared and own deviation meet by pairs of coordinates. 256 plain draws are 0.084 off.
      CHECK(off(evening(duties), {256, seed, 0.5}) < (duties <= 12 ? 0.055 : 0.084));
    }
  }
}

TEST_CASE("the finish of one after another agrees with thirty thousand plain draws") {
  for (const double share : {0.0, 0.5, 1.0}) {
    for (const size_t duties : {2, 12, 40, 200}) {
      const Evening list = evening(duties);
      const Quantiles exact = plainly(list, share);
      for (const std::uint64_t seed : {1, 2, 3, 4, 5}) {
        CAPTURE(share);
        CAPTURE(duties);
        CAPTURE(seed);
        const Quantiles found =
            quantiles_of(sums(sample_minutes(list.medians, list.spreads, {256, seed, share})));
        CHECK(found.median == doctest::Approx(exact.median).epsilon(0.03));
        CHECK(found.p80 == doctest::Approx(exact.p80).epsilon(0.03));
      }
    }
  }
}

TEST_CASE("256 draws find the finish better than 256 plain random ones") {
  const Evening list = evening(12);
  const Quantiles exact = plainly(list, 0.5);
  double quasi = 0;
  double plain = 0;
  std::mt19937_64 random(5);
  std::normal_distribution<double> normal;
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    const Quantiles found =
        quantiles_of(sums(sample_minutes(list.medians, list.spreads, {256, seed})));
    quasi += std::pow(found.p80 / exact.p80 - 1, 2);
    std::vector<double> totals(256);
    for (double& total : totals) {
      const double common = normal(random);
      for (size_t i = 0; i < list.medians.size(); ++i) {
        total += list.medians[i] *
                 std::exp(list.spreads[i] * std::sqrt(0.5) * (common + normal(random)));
      }
    }
    plain += std::pow(quantiles_of(totals).p80 / exact.p80 - 1, 2);
  }
  MESSAGE("root mean square error of the 80 % figure: quasi " << std::sqrt(quasi / 40) << ", plain "
                                                              << std::sqrt(plain / 40));
  CHECK(quasi < plain / 4);  // as good as four times the draws, at least
}

TEST_CASE("a crew that is slow in everything makes late evenings later") {
  const Evening list = evening(20);
  double before = 0;
  for (const double share : {0.0, 0.25, 0.5, 0.75, 1.0}) {
    CAPTURE(share);
    const Draws draws = sample_minutes(list.medians, list.spreads, {1024, 1, share});
    const double p80 = quantiles_of(sums(draws)).p80;
    CHECK(p80 > before);
    before = p80;
  }
}

TEST_CASE("with everything in common, the 80 % figures of the duties add up") {
  const Evening list = evening(20);
  double total = 0;
  for (size_t i = 0; i < 20; ++i) total += p80_minutes(list.medians[i], list.spreads[i]);
  const Draws draws = sample_minutes(list.medians, list.spreads, {1024, 1, 1.0});
  CHECK(quantiles_of(sums(draws)).p80 == doctest::Approx(total).epsilon(0.002));
}

TEST_CASE("the same seed gives the same draws, another seed others") {
  const Evening list = evening(30);
  const Draws draws = sample_minutes(list.medians, list.spreads, {128, 11});
  CHECK(draws == sample_minutes(list.medians, list.spreads, {128, 11}));
  CHECK(draws != sample_minutes(list.medians, list.spreads, {128, 12}));
}

TEST_CASE("a longer median lengthens that duty in every draw and no other") {
  Evening list = evening(10);
  const Draws before = sample_minutes(list.medians, list.spreads);
  list.medians[4] *= 1.25;
  const Draws after = sample_minutes(list.medians, list.spreads);
  for (size_t draw = 0; draw < before.size(); ++draw) {
    for (size_t i = 0; i < 10; ++i) {
      if (i == 4) {
        CHECK(after[draw][i] == doctest::Approx(1.25 * before[draw][i]));
      } else {
        CHECK(after[draw][i] == before[draw][i]);
      }
    }
  }
}

TEST_CASE("a duty more leaves the draws of those before it alone") {
  const Evening list = evening(200);
  const Evening shorter = evening(40);
  const Draws all = sample_minutes(list.medians, list.spreads);
  const Draws few = sample_minutes(shorter.medians, shorter.spreads);
  for (size_t draw = 0; draw < few.size(); ++draw) {
    for (size_t i = 0; i < 40; ++i) CHECK(few[draw][i] == all[draw][i]);
  }
}

TEST_CASE("odd lists are drawn as they stand") {
  CHECK(sample_minutes({}, {}).size() == 256);
  CHECK(sample_minutes({}, {}).front().empty());
  const std::vector<double> medians{5, 0};
  const std::vector<double> spreads{0, 0.4};
  for (const auto& draw : sample_minutes(medians, spreads)) {
    CHECK(draw == std::vector<double>{5, 0});  // no spread, and nothing to do
  }
  CHECK(sample_minutes(medians, spreads, {100}).size() == 128);
  CHECK(sample_minutes(medians, spreads, {0}).size() == 1);
}

TEST_CASE("more duties than the sequence has coordinates still get draws") {
  const std::vector<double> medians(3700, 2);
  const std::vector<double> spreads(3700, 0.3);
  const Draws draws = sample_minutes(medians, spreads, {128, 1, 0});
  CHECK(quantiles_of(of_duty(draws, 3699)).median == doctest::Approx(2).epsilon(0.1));
  CHECK(draws == sample_minutes(medians, spreads, {128, 1, 0}));
}

TEST_CASE("quantiles lie where the values say") {
  CHECK(quantiles_of({}).median == 0);
  CHECK(quantiles_of({}).p80 == 0);
  CHECK(quantiles_of({7}).median == 7);
  CHECK(quantiles_of({7}).p80 == 7);
  // Ten values stand at .05, .15, ..., .95: the middle lies half-way from the 5th to the 6th.
  CHECK(quantiles_of({10, 9, 8, 7, 6, 5, 4, 3, 2, 1}).median == doctest::Approx(5.5));
  CHECK(quantiles_of({10, 9, 8, 7, 6, 5, 4, 3, 2, 1}).p80 == doctest::Approx(8.5));
}

}  // namespace
}  // namespace chipfall
