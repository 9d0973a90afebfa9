// The belief against the truth of simulated bins, and against another way to compute it.
#include <cmath>

#include <doctest/doctest.h>

#include "tests/unit/living_bin.h"

namespace chipfall {
namespace {

using namespace test;

/// The same model as the grid, one possible bin at a time.
struct Particle {
  double fill = 0;
  double rate = 1;
};

void step(const BinEvent& event, double days, Dice& dice, std::vector<Particle>& particles) {
  const double lost = -std::expm1(-days / kForget_days);
  double not_emptied = dice.between(0, 1);
  for (Particle& p : particles) {
    if (lost > 0 && dice.between(0, 1) < lost) p.rate = rate_from_prior(dice);
    if (event.kind == BinEvent::Kind::kPush) {
      p.fill += event.expected_share * p.rate * log_normal_about_1(dice, event.spread);
      p.fill = std::min(p.fill, kMostFill);
    }
    if (event.kind == BinEvent::Kind::kEmptied) {
      not_emptied += kNotEmptiedChance;  // evenly among the particles: less noise than by chance
      if (not_emptied < 1) p.fill = 0;
      not_emptied -= std::floor(not_emptied);
    }
  }
}

/// Returns the share of the particles that still count after the sighting.
double resample(Sighting sighting, Dice& dice, std::vector<Particle>& particles) {
  std::vector<double> upto;
  double sum = 0;
  double squares = 0;
  for (const Particle& p : particles) {
    const double weight = chance_of(sighting, p.fill);
    squares += weight * weight;
    upto.push_back(sum += weight);
  }
  const std::vector<Particle> was = particles;
  const double gap = sum / static_cast<double>(was.size());
  double next = dice.between(0, gap);
  size_t at = 0;
  for (Particle& p : particles) {
    while (at + 1 < was.size() && upto[at] < next) ++at;
    p = was[at];
    next += gap;
  }
  return sum * sum / squares / static_cast<double>(was.size());
}

/// Unlikely evidence leaves few particles to stand for all: then again with ten times as many.
Particle particle_means(const std::vector<BinEvent>& events, Dice& dice, int count) {
  std::vector<Particle> particles(count);
  for (int i = 0; i < count; ++i) particles[i] = {(i + 0.5) / count, rate_from_prior(dice)};
  double now = events.front().day;
  double counting = count;
  for (const BinEvent& event : events) {
    step(event, event.day - now, dice, particles);
    now = event.day;
    if (event.kind != BinEvent::Kind::kSighting) continue;
    counting *= resample(event.sighting, dice, particles);
    if (counting < 800) return particle_means(events, dice, 10 * count);
  }
  Particle mean{0, 0};
  for (const Particle& p : particles) {
    mean.fill += p.fill / count;
    mean.rate += p.rate / count;
  }
  return mean;
}

TEST_CASE("the grid agrees with a particle filter on 200 random histories within 0.02") {
  double worst = 0;
  double worst_rate = 0;
  for (unsigned seed = 1; seed <= 200; ++seed) {
    Dice dice(seed);
    LivingBin bin(dice, rate_from_prior(dice));
    bin.fill = dice.between(0, 1);
    for (int day = 0; day < 5; ++day) {
      for (double& share : bin.busy) share = dice.between(0.01, 0.3);
      bin.session(dice, 3 * day, true);
      if (dice.heads()) bin.look(dice, 3 * day);
    }
    const Particle means = particle_means(bin.events, dice, 5000);
    const Belief belief = fold(bin.events);
    worst = std::max(worst, std::abs(expected_fill(belief) - means.fill));
    worst_rate = std::max(worst_rate, std::abs(std::log(expected_rate(belief) / means.rate)));
  }
  MESSAGE("worst difference of fill ", worst, ", of ln rate ", worst_rate);
  CHECK(worst < 0.02);
  CHECK(worst_rate < 0.1);
}

TEST_CASE("of 500 simulated bins 85 to 95 % are full by the day that said 90 %") {
  int promised = 0;
  int kept = 0;
  int half_promised = 0;
  int half_kept = 0;
  for (unsigned seed = 1; seed <= 500; ++seed) {
    Dice dice(seed + 1000);
    LivingBin bin(dice, rate_from_prior(dice));
    const int today = 55 + dice.upto(6);
    for (int day = 0; day <= today; ++day) {
      bin.session(dice, day, true);
      if (dice.upto(3) == 0) bin.look(dice, day);
    }
    const Forecast said =
        forecast(fold(bin.events, filled(0)), rhythm_of(bin.events, 0, today), today);
    for (int ahead = 0; ahead <= kForecast_days; ++ahead) {
      if (ahead > 0) bin.session(dice, today + ahead, false);
      if (said.days_to_half_chance == ahead) ++half_promised, half_kept += bin.fill >= 1;
      if (said.days_to_nine_in_ten == ahead) ++promised, kept += bin.fill >= 1;
    }
  }
  MESSAGE("90 %: ", kept, " of ", promised, ", 50 %: ", half_kept, " of ", half_promised);
  CHECK(promised > 350);
  CHECK(kept > 0.85 * promised);
  CHECK(kept < 0.95 * promised);
  CHECK(half_kept > 0.42 * half_promised);
  CHECK(half_kept < 0.65 * half_promised);
}

TEST_CASE("after three full and emptied cycles the forecast error is under half of no learning") {
  double learned_error = 0;
  double plain_error = 0;
  for (unsigned seed = 1; seed <= 150; ++seed) {
    Dice dice(seed + 5000);
    LivingBin bin(dice, rate_from_prior(dice));
    int day = 0;
    for (int cycles = 0; cycles < 3 && day < 300; ++day) {
      bin.session(dice, day, true);
      cycles += bin.look(dice, day);
    }
    const int today = day - 1;
    const Rhythm rhythm = rhythm_of(bin.events, 0, today);
    const Forecast learned = forecast(fold(bin.events, filled(0), today + 1), rhythm, today);
    const Forecast plain = forecast(from_empty(), rhythm, today);
    int truly = 0;
    while (bin.fill < 1 && truly < kForecast_days) bin.session(dice, today + ++truly, false);
    learned_error += std::abs(learned.days_to_half_chance.value_or(kForecast_days) - truly);
    plain_error += std::abs(plain.days_to_half_chance.value_or(kForecast_days) - truly);
  }
  MESSAGE("days off: ", learned_error / 150, ", without learning ", plain_error / 150);
  CHECK(learned_error < 0.5 * plain_error);
}

}  // namespace
}  // namespace chipfall
