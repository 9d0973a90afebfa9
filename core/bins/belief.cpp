#include "core/bins/belief.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/bins/column.h"

namespace chipfall {
namespace {

double logistic(double x) { return 1 / (1 + std::exp(-x)); }

double place(const Belief& belief, int rate, int fill) {
  return std::clamp((fill + belief.offset[rate]) * kFillStep, 0.0, kMostFill);
}

/// Chances of a sighting at each fill of a column that lies `offset` steps beside the grid: between
/// eighths of a step, worked out once, by a straight line (error below 1e-5).
Column chances_beside(Sighting sighting, double offset) {
  constexpr int kParts = 8;
  // By eighth, then by step from -1 to kFills: all steps of a column lie on the same eighth.
  using Curve = std::array<std::array<double, kFills + 2>, kParts + 1>;
  static const auto curves = [] {
    std::array<Curve, kAllSightings.size()> all{};
    for (Sighting each : kAllSightings) {
      for (int part = 0; part <= kParts; ++part) {
        for (int i = -1; i <= kFills; ++i) {
          const double fill = std::clamp((i + 1.0 * part / kParts) * kFillStep, 0.0, kMostFill);
          all[static_cast<size_t>(each)][part][i + 1] = chance_of(each, fill);
        }
      }
    }
    return all;
  }();
  const double whole = std::clamp(std::floor(offset), -1.0, 0.0);
  const double at = std::clamp((offset - whole) * kParts, 0.0, 1.0 * kParts);
  const int part = std::min(static_cast<int>(at), kParts - 1);
  const double share = at - part;
  const Curve& curve = curves[static_cast<size_t>(sighting)];
  const double* low = curve[part].data() + (whole < 0 ? 0 : 1);
  const double* high = curve[part + 1].data() + (whole < 0 ? 0 : 1);
  Column chances;
  for (int i = 0; i < kFills; ++i) chances[i] = low[i] + share * (high[i] - low[i]);
  return chances;
}

/// Adds mass at `step` steps, split between its neighbours so that the mean is kept.
void add_at(Column& column, double step, double mass) {
  const double within = std::clamp(step, 0.0, kFills - 1.0);
  const int low = std::min(static_cast<int>(within), kFills - 2);
  const double share = within - low;
  column[low] += mass * (1 - share);
  column[low + 1] += mass * share;
}

/// Adds the column's mass, times a factor, to one whose fills lie less than a step or two beside
/// its own: split between neighbours, what falls beyond an end stays at the end.
void add_moved(const Column& from, double from_offset, double to_offset, double factor,
               Column& to) {
  const double by = from_offset - to_offset;
  const int low = std::clamp(static_cast<int>(std::floor(by)), -1, 1);
  const double upper = factor * (by - low);
  const double lower = factor - upper;
  std::array<double, kFills + 4> padded{};  // place i + 2 stands for fill i
  std::copy(from.begin(), from.end(), padded.begin() + 2);
  const double* was = padded.data() + 2 - low;
  for (int i = 0; i < kFills; ++i) to[i] += lower * was[i] + upper * was[i - 1];
  if (low < 0) to[0] += lower * from[0];
  if (low == 0) to[kFills - 1] += upper * from[kFills - 1];
  if (low > 0) to[kFills - 1] += factor * from[kFills - 1] + upper * from[kFills - 2];
}

}  // namespace

double rate_factor(int column) {
  static const std::array<double, kRates> factors = [] {
    std::array<double, kRates> all{};
    for (int r = 0; r < kRates; ++r) all[r] = std::pow(kMostRate, 2.0 * r / (kRates - 1) - 1);
    return all;
  }();
  return factors[std::clamp(column, 0, kRates - 1)];
}

Belief start(const BinPrior& prior) {
  Belief belief;
  const double sd = std::isnan(prior.log_rate_sd) ? BinPrior{}.log_rate_sd
                                                  : std::clamp(prior.log_rate_sd, 0.02, 2.0);
  double sum = 0;
  for (int r = 0; r < kRates; ++r) {
    const double z = std::log(rate_factor(r)) / sd;
    sum += belief.prior[r] = std::exp(-z * z / 2);
  }
  Column fills{};
  if (prior.fill && !std::isnan(*prior.fill)) {
    add_at(fills, std::clamp(*prior.fill, 0.0, kMostFill) / kFillStep, 1);
  } else {
    const int full = static_cast<int>(std::round(1 / kFillStep));
    for (int i = 0; i <= full; ++i) fills[i] = (i == 0 || i == full ? 0.5 : 1.0) / full;
  }
  for (int r = 0; r < kRates; ++r) {
    belief.prior[r] /= sum;
    for (int i = 0; i < kFills; ++i) belief.mass[r][i] = belief.prior[r] * fills[i];
  }
  return belief;
}

void push(Belief& belief, double expected_share, double spread) {
  if (!(expected_share > 0)) return;
  const double share = std::min(expected_share, kMostPush);
  const double log_sd = std::isnan(spread) ? kPushSpread : std::clamp(spread, 0.0, kMostSpread);
  const double relative_variance = std::expm1(log_sd * log_sd);
  const int spread_place = place_of_spread(log_sd);
  const int place = place_of_mean(share * rate_factor(0) / kFillStep);
  for (int r = 0; r < kRates; ++r) {
    const double mean = share * rate_factor(r) / kFillStep;
    const KernelPlace kept{spread_place, place + r * kPlacesPerColumn};
    push_column(mean, relative_variance * mean * mean, kept, r, belief);
  }
}

Belief pushed(const Belief& belief, double expected_share, double spread) {
  Belief after = belief;
  push(after, expected_share, spread);
  return after;
}

double chance_of(Sighting sighting, double fill) {
  if (std::isnan(fill)) fill = 0.5;
  const double room = logistic((kRoomToHalf - fill) / kAnswerBlur);
  const double full = logistic((fill - kHalfToFull) / kAnswerBlur);
  const double slip = kSlipChance / 3;
  switch (sighting) {
    case Sighting::kRoom:
      return slip + (1 - kSlipChance) * room;
    case Sighting::kHalf:
      return slip + (1 - kSlipChance) * std::max(0.0, 1 - room - full);
    case Sighting::kFull:
      return slip + (1 - kSlipChance) * full;
    case Sighting::kWeakPull:
      break;
  }
  return kPullOtherwise +
         (kPullNoticed - kPullOtherwise) * logistic((fill - kPullFails) / kPullBlur);
}

double chance_of(Sighting sighting, const Belief& belief) {
  double chance = 0;
  for (int r = 0; r < kRates; ++r) {
    Column chances = chances_beside(sighting, belief.offset[r]);
    for (int i = 0; i < kFills; ++i) chances[i] *= belief.mass[r][i];
    chance += sum_of(chances);
  }
  return chance;
}

void see(Belief& belief, Sighting sighting) {
  const Belief before = belief;
  double sum = 0;
  for (int r = 0; r < kRates; ++r) {
    const Column chances = chances_beside(sighting, belief.offset[r]);
    for (int i = 0; i < kFills; ++i) belief.mass[r][i] *= chances[i];
    sum += sum_of(belief.mass[r]);
  }
  if (!(sum > 0)) {  // only where nothing was believed at all
    belief = before;
    return;
  }
  const double factor = 1 / sum;
  for (Column& column : belief.mass) {
    for (double& mass : column) mass *= factor;
  }
}

Belief seen(const Belief& belief, Sighting sighting) {
  Belief after = belief;
  see(after, sighting);
  return after;
}

void empty(Belief& belief) {
  for (int r = 0; r < kRates; ++r) {
    const Column was = belief.mass[r];
    belief.mass[r].fill(0);
    add_moved(was, belief.offset[r], 0, kNotEmptiedChance, belief.mass[r]);
    belief.mass[r][0] += (1 - kNotEmptiedChance) * sum_of(was);
    belief.offset[r] = 0;
    belief.owed[r] = 0;
  }
}

Belief emptied(const Belief& belief) {
  Belief after = belief;
  empty(after);
  return after;
}

void drift(Belief& belief, double days) {
  if (!(days > 0)) return;
  const double kept = std::exp(-days / kForget_days);
  Column fills{};
  for (int r = 0; r < kRates; ++r) add_moved(belief.mass[r], belief.offset[r], 0, 1, fills);
  for (int r = 0; r < kRates; ++r) {
    for (double& mass : belief.mass[r]) mass *= kept;
    add_moved(fills, 0, belief.offset[r], (1 - kept) * belief.prior[r], belief.mass[r]);
  }
}

Belief drifted(const Belief& belief, double days) {
  Belief after = belief;
  drift(after, days);
  return after;
}

double total(const Belief& belief) {
  double sum = 0;
  for (const Column& column : belief.mass) sum += sum_of(column);
  return sum;
}

std::array<double, kFills> fill_chances(const Belief& belief) {
  Column fills{};
  for (int r = 0; r < kRates; ++r) add_moved(belief.mass[r], belief.offset[r], 0, 1, fills);
  return fills;
}

double expected_fill(const Belief& belief) {
  double fill = 0;
  for (int r = 0; r < kRates; ++r) {
    for (int i = 0; i < kFills; ++i) fill += belief.mass[r][i] * place(belief, r, i);
  }
  return fill;
}

double expected_rate(const Belief& belief) {
  double rate = 0;
  for (int r = 0; r < kRates; ++r) {
    rate += sum_of(belief.mass[r]) * rate_factor(r);
  }
  return rate;
}

double chance_full(const Belief& belief, double at) {
  const double limit = std::isnan(at) ? 1 : std::clamp(at, kFillStep, kMostFill - kFillStep);
  double chance = 0;
  for (int r = 0; r < kRates; ++r) {
    // Whole below `limit` by a step or more and whole above; only one or two steps lie across it.
    const double at_step = limit / kFillStep - belief.offset[r];
    const int from = std::clamp(static_cast<int>(std::floor(at_step)) - 1, 0, kFills - 1);
    double part = 0;
    for (int i = from; i < kFills; ++i) {
      const double beyond = (place(belief, r, i) - limit) / kFillStep + 0.5;
      part += belief.mass[r][i] * std::clamp(beyond, 0.0, 1.0);
    }
    chance += part;
  }
  return std::min(chance, 1.0);
}

std::string explained(const Belief& before, Sighting sighting, const std::string& when,
                      const std::string& fallen) {
  if (chance_of(sighting, before) >= kSurprise) return "";
  const bool known = !fallen.empty();
  const std::string on = when.empty() ? "" : fmt::format(" {}", when);
  if (sighting == Sighting::kWeakPull) {
    return fmt::format(
        "weak pull{}, though this bin should be about {:.0f} % full: besides the bin, look at the "
        "filter and the gates",
        on, 100 * std::min(expected_fill(before), 1.0));
  }
  const char* what = sighting == Sighting::kRoom   ? "with room"
                     : sighting == Sighting::kHalf ? "half"
                                                   : "full";
  const bool slower = expected_fill(seen(before, sighting)) < expected_fill(before);
  const std::string though =
      !known   ? std::string(slower ? "though more should have fallen" : "sooner than expected")
      : slower ? "though " + fallen + " should have fallen since it was emptied"
               : "though only " + fallen + " should have fallen since it was emptied";
  return fmt::format("seen {}{}, {}: this bin fills {} than its machines suggest{}", what, on,
                     though, slower ? "slower" : "faster",
                     slower ? "" : ", or something went in that nobody logged");
}

}  // namespace chipfall
