#include "core/bins/column.h"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <optional>
#include <vector>

namespace chipfall {
namespace {

/// Below this variance (steps squared) a push only moves its column: the grid is too coarse to
/// show it.
constexpr double kLeastSpread = 0.25;
/// Up to this variance, give or take 0.035 of the bin, a push is narrow: its skew does not show,
/// and it is spread evenly, at a tenth of the time.
constexpr double kNarrow = 3;

constexpr int kMostMoves = kFills + 1;
/// A kernel begins and ends where no more than this is left; its first and last step stand for it.
constexpr double kLeftOut = 1e-4;

/// Kernels are kept for means from kFirstMean steps on, so many to the doubling: what a mean lies
/// beside the nearest one, 0.7 % at most, the column's offset carries, and what the variance lies
/// beside it is owed. Beyond the last all of the bin runs over.
constexpr double kFirstMean = 2;
constexpr int kPlacesPerDoubling = 48;
constexpr int kPlaces = 8 * kPlacesPerDoubling;
static_assert(kRates == 25 && kMostRate == 4);  // so columns lie a sixth of a doubling apart
static_assert(kPlacesPerDoubling == 6 * kPlacesPerColumn);

/// Moves of a whole number of steps with their weights, which sum to 1.
struct Kernel {
  int first = 0;
  int count = 0;
  std::array<double, kMostMoves> weights{};
  double mean = 0;      ///< of the moves, before the last step stands for all beyond it
  double variance = 0;  ///< likewise
};

double below(double z) { return 0.5 * std::erfc(-z * M_SQRT1_2); }

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
  while (kernel.first < kFills && below(z_at(kernel.first + 0.5)) < kLeftOut) ++kernel.first;
  // A move by kFills ends at the brim from anywhere; so it stands for all that are longer.
  const int last = static_cast<int>(std::ceil(std::min(mean + 10 * sd, 1.0 * kFills)));
  const int most = std::clamp(last - kernel.first + 1, 1, kMostMoves);
  double done = 0;
  double second = 0;  // moment about 0
  int k = 0;
  for (; k + 1 < most && 1 - done > kLeftOut; ++k) {
    const int step = kernel.first + k;
    const double upto = below(z_at(step + 0.5));
    kernel.weights[k] = upto - done;
    done = upto;
    kernel.mean += kernel.weights[k] * step;
    second += kernel.weights[k] * step * step;
  }
  kernel.count = k + 1;
  // The last step stands for all beyond it, with that tail's own moments: else what is cut off
  // past the brim would be made up for by moving the rest too far.
  kernel.weights[k] = 1 - done;
  const double z = z_at(kernel.first + k - 0.5);
  kernel.mean += mean * below(log_sd - z);
  second += (mean * mean + variance) * below(2 * log_sd - z);
  kernel.variance = second - kernel.mean * kernel.mean;
  return kernel;
}

/// Each mean of one spread, worked out when the first is asked for.
template <int kSpread>
const std::vector<Kernel>& kernels_of_spread() {
  static const std::vector<Kernel> kernels = [] {
    std::vector<Kernel> all;
    const double relative_variance = std::expm1(kKeptSpreads[kSpread] * kKeptSpreads[kSpread]);
    for (int p = 0; p < kPlaces; ++p) {
      const double mean = kFirstMean * std::exp2(1.0 * p / kPlacesPerDoubling);
      all.push_back(log_normal_kernel(mean, relative_variance * mean * mean));
    }
    return all;
  }();
  return kernels;
}

/// Null where none is kept.
const Kernel* kept_kernel(KernelPlace place) {
  static_assert(kKeptSpreads.size() == 3);
  if (place.spread < 0 || place.mean < 0 || place.mean >= kPlaces) return nullptr;
  const std::vector<Kernel>& kernels = place.spread == 0   ? kernels_of_spread<0>()
                                       : place.spread == 1 ? kernels_of_spread<1>()
                                                           : kernels_of_spread<2>();
  return &kernels[static_cast<size_t>(place.mean)];
}

/// Four numbers that are added and multiplied at once; g++ and clang know the type.
using Four = double __attribute__((vector_size(32)));
constexpr int kBlock = 8;

// On x86 the loop exists for older and newer processors; both round alike, so the bits are the
// same.
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__)
#define CHIPFALL_WIDE __attribute__((target_clones("avx2", "default")))
#define CHIPFALL_FLAT __attribute__((flatten))
#else
#define CHIPFALL_WIDE
#define CHIPFALL_FLAT
#endif

/// Each weight times the column, shifted by the weight's place, added up, for the first `places`
/// places. Eight results at a time stay in registers while the weights pass by.
void add_shifted(const Kernel& kernel, const Column& column, int places,
                 std::array<double, kFills + kBlock>& out) {
  std::array<double, kBlock + kFills + kBlock> padded;
  std::fill_n(padded.begin(), kBlock, 0.0);
  std::copy(column.begin(), column.end(), padded.begin() + kBlock);
  std::fill(padded.begin() + kBlock + kFills, padded.end(), 0.0);
  for (int from = 0; from < places; from += kBlock) {
    Four low{}, high{};
    const int last = std::min(kernel.count - 1, from + kBlock - 1);
    const double* was = padded.data() + kBlock + from;
    for (int k = 0; k <= last; ++k, --was) {
      const double w = kernel.weights[k];
      const Four weight{w, w, w, w};
      Four a, b;
      std::memcpy(&a, was, sizeof a);
      std::memcpy(&b, was + 4, sizeof b);
      low += weight * a;
      high += weight * b;
    }
    std::memcpy(out.data() + from, &low, sizeof low);
    std::memcpy(out.data() + from + 4, &high, sizeof high);
  }
}

/// Moves `column` by the kernel's weights, all `further` steps further; what would fall beyond an
/// end stays there. Only what stays below the brim is worked out, the brim gets the rest.
CHIPFALL_WIDE CHIPFALL_FLAT void apply(const Kernel& kernel, int further, Column& column) {
  const int first = kernel.first + further;
  const int places = std::clamp(kFills - 1 - first, 0, kFills);
  const double all = sum_of(column);
  std::array<double, kFills + kBlock> moved;
  add_shifted(kernel, column, places, moved);
  double before = 0;  // below the bottom
  for (int j = 0; j < std::min(-first, places); ++j) before += moved[j];
  const int bottom = std::clamp(first, 0, kFills - 1);
  std::fill_n(column.begin(), bottom, 0.0);
  for (int i = bottom; i < kFills - 1; ++i) column[i] = i - first < places ? moved[i - first] : 0;
  column[0] += before;
  column[kFills - 1] = 0;
  column[kFills - 1] = std::max(0.0, all - sum_of(column));
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

constexpr int kMostRounds = 4;
constexpr double kPerRound = 0.75;
static_assert(kMostRounds * kPerRound >= kNarrow);

/// Spreading to neighbours in so many rounds, in one: weights by distance to either side. At the
/// ends the column goes on as its mirror image, so that nothing is lost there.
template <int kRounds>
void spread_in(double side, Column& column) {
  std::array<double, 2 * kRounds + 1> weights{};
  weights[kRounds] = 1;
  for (int round = 0; round < kRounds; ++round) {
    const std::array<double, 2 * kRounds + 1> was = weights;
    for (int k = 0; k <= 2 * kRounds; ++k) {
      weights[k] = (1 - 2 * side) * was[k];
      if (k > 0) weights[k] += side * was[k - 1];
      if (k < 2 * kRounds) weights[k] += side * was[k + 1];
    }
  }
  std::array<double, kFills + 2 * kRounds> was;
  for (int i = 0; i < kFills; ++i) was[kRounds + i] = column[i];
  for (int i = 0; i < kRounds; ++i) {
    was[kRounds - 1 - i] = column[i];
    was[kRounds + kFills + i] = column[kFills - 1 - i];
  }
  for (int i = 0; i < kFills; ++i) {
    double sum = weights[kRounds] * was[i + kRounds];
    for (int k = 0; k < kRounds; ++k) sum += weights[k] * (was[i + k] + was[i + 2 * kRounds - k]);
    column[i] = sum;
  }
}

/// Spreads evenly to both sides, by neighbours, in as many rounds as keep the shape bell-like.
CHIPFALL_WIDE CHIPFALL_FLAT void spread_by(double variance, Column& column) {
  const int rounds = static_cast<int>(std::ceil(variance / kPerRound));
  const double side = variance / rounds / 2;
  switch (rounds) {
    case 1:
      return spread_in<1>(side, column);
    case 2:
      return spread_in<2>(side, column);
    case 3:
      return spread_in<3>(side, column);
    default:
      return spread_in<kMostRounds>(side, column);
  }
}

/// With the shape of a log-normal. Returns the steps, beside the kernel's own mean, that were to
/// go: whole ones are gone, the rest is for the offset.
double push_wide(double mean, double to_show, KernelPlace place, int rate, Belief& belief) {
  std::optional<Kernel> made;
  const Kernel* kept = kept_kernel(place);
  if (kept == nullptr) made = log_normal_kernel(mean, to_show);
  const Kernel& kernel = kept != nullptr ? *kept : *made;
  belief.owed[rate] = std::clamp(to_show - kernel.variance, -kLeastSpread, kLeastSpread);
  const double rest = belief.offset[rate] + mean - kernel.mean;
  const double steps = std::clamp(std::round(rest), -1.0 * kFills, 1.0 * kFills);
  apply(kernel, static_cast<int>(steps), belief.mass[rate]);
  return rest;
}

}  // namespace

double sum_of(const Column& column) {
  constexpr int kLanes = 6;
  static_assert(kFills % kLanes == 0);
  std::array<double, kLanes> sums{};
  for (int i = 0; i < kFills; i += kLanes) {
    for (int lane = 0; lane < kLanes; ++lane) sums[lane] += column[i + lane];
  }
  return ((sums[0] + sums[1]) + (sums[2] + sums[3])) + (sums[4] + sums[5]);
}

int place_of_mean(double mean_steps) {
  return static_cast<int>(std::round(kPlacesPerDoubling * std::log2(mean_steps / kFirstMean)));
}

int place_of_spread(double log_sd) {
  const auto found = std::ranges::find(kKeptSpreads, log_sd);
  return found == kKeptSpreads.end() ? -1 : static_cast<int>(found - kKeptSpreads.begin());
}

void push_column(double mean, double variance, KernelPlace place, int rate, Belief& belief) {
  Column& column = belief.mass[rate];
  const double to_show = variance + belief.owed[rate];
  double rest = 0;
  if (to_show > kNarrow) {
    rest = push_wide(mean, to_show, place, rate, belief);
  } else {
    rest = belief.offset[rate] + mean;
    const double steps = std::clamp(std::round(rest), -1.0 * kFills, 1.0 * kFills);
    if (steps != 0) move_by(static_cast<int>(steps), column);
    const bool shown = to_show >= kLeastSpread;
    if (shown) spread_by(to_show, column);
    belief.owed[rate] = shown ? 0 : to_show;
  }
  belief.offset[rate] = rest - std::round(rest);
}

}  // namespace chipfall
