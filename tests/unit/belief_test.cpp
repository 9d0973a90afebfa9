#include "core/bins/belief.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <limits>
#include <vector>

#include <doctest/doctest.h>

#include "core/bins/forecast.h"
#include "core/bins/history.h"
#include "tests/unit/random_shop.h"

namespace chipfall {
namespace {

using test::Dice;

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kHuge = std::numeric_limits<double>::infinity();

std::string label(const char* kind, int number) { return fmt::format("{}{}", kind, number); }

double normal(Dice& dice) {
  return std::sqrt(-2 * std::log(1 - dice.between(0, 1))) * std::cos(2 * M_PI * dice.between(0, 1));
}

double log_normal_about_1(Dice& dice, double spread) {
  return std::exp(spread * normal(dice) - spread * spread / 2);
}

double rate_from_prior(Dice& dice) {
  for (;;) {
    const double rate = std::exp(BinPrior{}.log_rate_sd * normal(dice));
    if (rate >= 1 / kMostRate && rate <= kMostRate) return rate;
  }
}

Sighting answer(Dice& dice, double fill) {
  const double pick = dice.between(0, 1);
  const double room = chance_of(Sighting::kRoom, fill);
  if (pick < room) return Sighting::kRoom;
  return pick < room + chance_of(Sighting::kHalf, fill) ? Sighting::kHalf : Sighting::kFull;
}

BinPrior filled(double fill, double log_rate_sd = BinPrior{}.log_rate_sd) {
  BinPrior prior;
  prior.fill = fill;
  prior.log_rate_sd = log_rate_sd;
  return prior;
}

Belief from_empty() { return start(filled(0)); }

bool same_bits(const Belief& a, const Belief& b) { return std::memcmp(&a, &b, sizeof a) == 0; }

bool sound(const Belief& belief) {
  for (const auto& column : belief.mass) {
    if (!std::ranges::all_of(column, [](double mass) { return mass >= 0; })) return false;
  }
  return std::abs(total(belief) - 1) < 1e-9 && std::isfinite(expected_fill(belief)) &&
         expected_fill(belief) <= kMostFill + 1e-9 && std::isfinite(expected_rate(belief)) &&
         chance_full(belief) >= 0 && chance_full(belief) <= 1;
}

/// Half days, so that ties are common.
std::vector<BinEvent> random_events(Dice& dice, int count) {
  std::vector<BinEvent> events;
  for (int i = 0; i < count; ++i) {
    BinEvent event = push_event(label("e", i), dice.upto(20) / 2.0, dice.between(0, 0.3));
    const int what = dice.upto(9);
    event.kind = what < 6   ? BinEvent::Kind::kPush
                 : what < 9 ? BinEvent::Kind::kSighting
                            : BinEvent::Kind::kEmptied;
    event.spread = dice.between(0, 0.6);
    event.sighting = kAllSightings[dice.upto(3)];
    events.push_back(event);
  }
  return events;
}

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

/// A bin that lives: what truly happens, and what is told of it.
struct LivingBin {
  double rate = 1;
  double fill = 0;
  std::array<double, 7> busy{};  ///< expected share by weekday
  std::vector<BinEvent> events;

  LivingBin(Dice& dice, double true_rate) : rate(true_rate) {
    const double days_to_fill = dice.between(12, 30);
    for (double& share : busy) share = dice.between(0.3, 1.7) / days_to_fill;
  }
  /// A day's session; told unless the day is still to come.
  void session(Dice& dice, int day, bool told) {
    const double share = busy[day % 7] * dice.between(0.5, 1.5);
    fill += share * rate * log_normal_about_1(dice, kPushSpread);
    fill = std::min(fill, kMostFill);
    if (told) events.push_back(push_event(label("p", day), day + 0.7, share));
  }
  /// Somebody looks; what they call full, they empty. True when emptied.
  bool look(Dice& dice, int day) {
    const Sighting sighting = answer(dice, fill);
    events.push_back(sighting_event(label("s", day), day + 0.8, sighting));
    if (sighting != Sighting::kFull) return false;
    events.push_back(emptied_event(label("x", day), day + 0.9));
    if (dice.between(0, 1) > kNotEmptiedChance) fill = 0;
    return true;
  }
};

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
  CHECK(explained(belief, Sighting::kWeakPull, "on Friday", "4 L").find("the filter and the gates") !=
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
