#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <string>
#include <vector>

#include "core/bins/forecast.h"
#include "core/bins/history.h"
#include "tests/unit/random_shop.h"

/// Bins that live: what truly happens to them, and what is told of it.
namespace chipfall::test {

inline std::string label(const char* kind, int number) { return fmt::format("{}{}", kind, number); }

inline double normal(Dice& dice) {
  const double radius = std::sqrt(-2 * std::log(1 - dice.between(0, 1)));
  return radius * std::cos(2 * M_PI * dice.between(0, 1));
}

inline double log_normal_about_1(Dice& dice, double spread) {
  return std::exp(spread * normal(dice) - spread * spread / 2);
}

inline double rate_from_prior(Dice& dice) {
  for (;;) {
    const double rate = std::exp(BinPrior{}.log_rate_sd * normal(dice));
    if (rate >= 1 / kMostRate && rate <= kMostRate) return rate;
  }
}

inline Sighting answer(Dice& dice, double fill) {
  const double pick = dice.between(0, 1);
  const double room = chance_of(Sighting::kRoom, fill);
  if (pick < room) return Sighting::kRoom;
  return pick < room + chance_of(Sighting::kHalf, fill) ? Sighting::kHalf : Sighting::kFull;
}

inline BinPrior filled(double fill, double log_rate_sd = BinPrior{}.log_rate_sd) {
  BinPrior prior;
  prior.fill = fill;
  prior.log_rate_sd = log_rate_sd;
  return prior;
}

inline Belief from_empty() { return start(filled(0)); }

inline bool same_bits(const Belief& a, const Belief& b) {
  return std::memcmp(&a, &b, sizeof a) == 0;
}

/// Half days, so that ties are common.
inline std::vector<BinEvent> random_events(Dice& dice, int count) {
  std::vector<BinEvent> events;
  for (int i = 0; i < count; ++i) {
    const double share = dice.between(0, 0.3), day = dice.upto(20) / 2.0;
    BinEvent event = push_event(label("e", i), day, share);
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

}  // namespace chipfall::test
