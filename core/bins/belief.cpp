#include "core/bins/belief.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace chipfall {
namespace {

using Column = std::array<double, kFills>;

/// Below this variance (steps squared) a push only moves its column: the grid is too coarse to
/// show it.
constexpr double kLeastSpread = 0.25;
/// Up to this variance, give or take 0.035 of the bin, a push is narrow: its skew does not show,
/// and it is spread evenly, at a tenth of the time.
constexpr double kNarrow = 3;

constexpr int kMostMoves = kFills + 1;

/// Moves of a whole number of steps with their weights, which sum to 1.
struct Kernel {
  int first = 0;
  int count = 0;
  std::array<double, kMostMoves> weights{};
  double mean = 0;      ///< of the moves, before the last step stands for all beyond it
  double variance = 0;  ///< likewise
};

double logistic(double x) { return 1 / (1 + std::exp(-x)); }
double below(double z) { return 0.5 * std::erfc(-z * M_SQRT1_2); }

double place(const Belief& belief, int rate, int fill) {
  return std::clamp((fill + belief.offset[rate]) * kFillStep, 0.0, kMostFill);
}

/// Chances of a sighting at each fill of a column that lies `offset` steps beside the grid: between
/// eighths of a step, worked out once, by a straight line (error below 1e-5).
Column chances_beside(Sighting sighting, double offset) {
  constexpr int kParts = 8;
  constexpr int kLast = (kFills - 1) * kParts;
  using Curve = std::array<double, kLast + 1>;
  static const auto curves = [] {
    std::array<Curve, kAllSightings.size()> all{};
    for (Sighting each : kAllSightings) {
      for (int j = 0; j <= kLast; ++j) {
        all[static_cast<size_t>(each)][j] = chance_of(each, j * kFillStep / kParts);
      }
    }
    return all;
  }();
  const Curve& curve = curves[static_cast<size_t>(sighting)];
  Column chances{};
  for (int i = 0; i < kFills; ++i) {
    const double at = std::clamp((i + offset) * kParts, 0.0, 1.0 * kLast);
    const int low = std::min(static_cast<int>(at), kLast - 1);
    chances[i] = curve[low] + (at - low) * (curve[low + 1] - curve[low]);
  }
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
  std::array<double, kFills + 3> padded{};  // place i stands for fill i - 1
  for (int i = 0; i < kFills; ++i) padded[i + 1 + low] += lower * from[i];
  for (int i = 0; i < kFills; ++i) padded[i + 2 + low] += upper * from[i];
  for (int i = 0; i < kFills; ++i) to[i] += padded[i + 1];
  to[0] += padded[0];
  to[kFills - 1] += padded[kFills + 1] + padded[kFills + 2];
}

/// A log-normal with this mean and variance, in steps, rounded to whole ones.
Kernel log_normal_kernel(double mean, double variance) {
  const double sd = std::sqrt(variance);
  const double log_variance = std::log1p(variance / (mean * mean));
  const double log_sd = std::sqrt(log_variance);
  const double log_median = std::log(mean) - log_variance / 2;
  const auto z_at = [&](double step) {
    return step <= 0 ? -99 : (std::log(step) - log_median) / log_sd;
  };
  Kernel kernel;
  kernel.first = static_cast<int>(std::clamp(mean - 5 * sd, 0.0, 1.0 * kFills));
  // A move by kFills ends at the brim from anywhere; so it stands for all that are longer.
  const int last = static_cast<int>(std::ceil(std::min(mean + 10 * sd, 1.0 * kFills)));
  kernel.count = std::clamp(last - kernel.first + 1, 1, kMostMoves);
  double done = 0;
  double second = 0;  // moment about 0
  for (int k = 0; k + 1 < kernel.count; ++k) {
    const int step = kernel.first + k;
    const double upto = below(z_at(step + 0.5));
    kernel.weights[k] = upto - done;
    done = upto;
    kernel.mean += kernel.weights[k] * step;
    second += kernel.weights[k] * step * step;
  }
  // The last step stands for all beyond it, with that tail's own moments: else what is cut off
  // past the brim would be made up for by moving the rest too far.
  kernel.weights[kernel.count - 1] = 1 - done;
  const double z = z_at(kernel.first + kernel.count - 1.5);
  kernel.mean += mean * below(log_sd - z);
  second += (mean * mean + variance) * below(2 * log_sd - z);
  kernel.variance = second - kernel.mean * kernel.mean;
  return kernel;
}

Column applied(const Kernel& kernel, const Column& column) {
  std::array<double, kFills + kMostMoves> moved{};
  for (int i = 0; i < kFills; ++i) {
    if (column[i] == 0) continue;
    for (int k = 0; k < kernel.count; ++k) moved[i + k] += column[i] * kernel.weights[k];
  }
  Column within{};
  for (int j = 0; j < kFills + kernel.count; ++j) {
    within[std::clamp(kernel.first + j, 0, kFills - 1)] += moved[j];
  }
  return within;
}

/// Moves without spreading.
void move_by(int steps, Column& column) {
  const int by = std::min(std::abs(steps), kFills);
  double beyond = 0;
  if (steps > 0) {
    for (int i = kFills - by; i < kFills; ++i) beyond += column[i];
    std::copy_backward(column.begin(), column.end() - by, column.end());
    std::fill(column.begin(), column.begin() + by, 0);
    column.back() += beyond;
  } else {
    for (int i = 0; i < by; ++i) beyond += column[i];
    std::copy(column.begin() + by, column.end(), column.begin());
    std::fill(column.end() - by, column.end(), 0);
    column.front() += beyond;
  }
}

/// Spreads evenly to both sides, by neighbours, in as many rounds as keep the shape bell-like.
void spread_by(double variance, Column& column) {
  const int rounds = static_cast<int>(std::ceil(variance / 0.75));
  const double side = variance / rounds / 2;
  for (int round = 0; round < rounds; ++round) {
    std::array<double, kFills + 2> was;
    std::copy(column.begin(), column.end(), was.begin() + 1);
    was.front() = column.front();
    was.back() = column.back();
    for (int i = 0; i < kFills; ++i) {
      column[i] = (1 - 2 * side) * was[i + 1] + side * (was[i] + was[i + 2]);
    }
  }
}

/// Moves one column by `mean` steps with this variance; what whole steps cannot show is carried.
void push_column(double mean, double variance, int rate, Belief& belief) {
  Column& column = belief.mass[rate];
  const double to_show = variance + belief.owed[rate];
  const bool wide = to_show > kNarrow;
  double moved = 0;
  if (wide) {
    const Kernel kernel = log_normal_kernel(mean, to_show);
    column = applied(kernel, column);
    moved = kernel.mean;
    belief.owed[rate] = std::clamp(to_show - kernel.variance, -kLeastSpread, kLeastSpread);
  }
  const double rest = belief.offset[rate] + mean - moved;
  const double steps = std::round(rest);
  if (steps != 0) {
    move_by(static_cast<int>(std::clamp(steps, -1.0 * kFills, 1.0 * kFills)), column);
  }
  belief.offset[rate] = rest - steps;
  if (wide) return;
  const bool shown = to_show >= kLeastSpread;
  if (shown) spread_by(to_show, column);
  belief.owed[rate] = shown ? 0 : to_show;
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

Belief pushed(const Belief& belief, double expected_share, double spread) {
  if (!(expected_share > 0)) return belief;
  const double share = std::min(expected_share, kMostPush);
  const double log_sd = std::isnan(spread) ? kPushSpread : std::clamp(spread, 0.0, kMostSpread);
  const double relative_variance = std::expm1(log_sd * log_sd);
  Belief after = belief;
  for (int r = 0; r < kRates; ++r) {
    const double mean = share * rate_factor(r) / kFillStep;
    push_column(mean, relative_variance * mean * mean, r, after);
  }
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
    const Column chances = chances_beside(sighting, belief.offset[r]);
    for (int i = 0; i < kFills; ++i) chance += belief.mass[r][i] * chances[i];
  }
  return chance;
}

Belief seen(const Belief& belief, Sighting sighting) {
  Belief after = belief;
  double sum = 0;
  for (int r = 0; r < kRates; ++r) {
    const Column chances = chances_beside(sighting, belief.offset[r]);
    for (int i = 0; i < kFills; ++i) sum += after.mass[r][i] *= chances[i];
  }
  if (!(sum > 0)) return belief;  // only where nothing was believed at all
  for (Column& column : after.mass) {
    for (double& mass : column) mass /= sum;
  }
  return after;
}

Belief emptied(const Belief& belief) {
  Belief after;
  after.prior = belief.prior;
  for (int r = 0; r < kRates; ++r) {
    double sum = 0;
    for (double mass : belief.mass[r]) sum += mass;
    add_moved(belief.mass[r], belief.offset[r], 0, kNotEmptiedChance, after.mass[r]);
    after.mass[r][0] += (1 - kNotEmptiedChance) * sum;
  }
  return after;
}

Belief drifted(const Belief& belief, double days) {
  if (!(days > 0)) return belief;
  const double kept = std::exp(-days / kForget_days);
  Column fills{};
  for (int r = 0; r < kRates; ++r) add_moved(belief.mass[r], belief.offset[r], 0, 1, fills);
  Belief after = belief;
  for (int r = 0; r < kRates; ++r) {
    for (double& mass : after.mass[r]) mass *= kept;
    add_moved(fills, 0, belief.offset[r], (1 - kept) * belief.prior[r], after.mass[r]);
  }
  return after;
}

double total(const Belief& belief) {
  double sum = 0;
  for (const Column& column : belief.mass) {
    for (double mass : column) sum += mass;
  }
  return sum;
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
    double sum = 0;
    for (double mass : belief.mass[r]) sum += mass;
    rate += sum * rate_factor(r);
  }
  return rate;
}

double chance_full(const Belief& belief, double at) {
  const double limit = std::isnan(at) ? 1 : std::clamp(at, kFillStep, kMostFill - kFillStep);
  double chance = 0;
  for (int r = 0; r < kRates; ++r) {
    for (int i = 0; i < kFills; ++i) {
      const double beyond = (place(belief, r, i) - limit) / kFillStep + 0.5;
      chance += belief.mass[r][i] * std::clamp(beyond, 0.0, 1.0);
    }
  }
  return std::min(chance, 1.0);
}

std::string explained(const Belief& before, Sighting sighting, const std::string& day,
                      double expected_l) {
  if (chance_of(sighting, before) >= kSurprise) return "";
  const bool known = std::isfinite(expected_l) && expected_l > 0;
  const std::string on = day.empty() ? "" : " on " + day;
  const std::string litres = known ? fmt::format("{:.0f} L", expected_l) : "";
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
      : slower ? "though " + litres + " should have fallen since it was emptied"
               : "though only " + litres + " should have fallen since it was emptied";
  return fmt::format("seen {}{}, {}: this bin fills {} than its machines suggest{}", what, on,
                     though, slower ? "slower" : "faster",
                     slower ? "" : ", or something went in that nobody logged");
}

}  // namespace chipfall
