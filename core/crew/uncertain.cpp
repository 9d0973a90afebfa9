#include "core/crew/uncertain.h"

#include <algorithm>
#include <bit>
#include <boost/math/distributions/normal.hpp>
#include <boost/random/sobol.hpp>
#include <cassert>
#include <cmath>
#include <random>

#include "core/duty/minutes.h"

namespace chipfall {
namespace {

/// Where all coordinates of the sequence's next point stand, each as 64 binary digits.
///
/// Boost leaves out the point 0, which belongs to the first 2^k: without it their cells do not
/// come out even. The shift moves it away from the edge.
class ShiftedSobol {
 public:
  ShiftedSobol(std::size_t dimensions, std::uint64_t seed)
      : random_(seed), quasi_(std::min(dimensions, kMostQuasi)), sobol_(quasi_) {
    shifts_.resize(dimensions);
    for (std::uint64_t& shift : shifts_) shift = random_();
  }

  std::vector<std::uint64_t> next() {
    std::vector<std::uint64_t> point = shifts_;
    for (std::size_t i = 0; i < point.size(); ++i) {
      if (i >= quasi_) {
        point[i] = random_();
      } else if (!first_) {
        point[i] ^= sobol_();
      }
    }
    first_ = false;
    return point;
  }

 private:
  /// More duties than an evening has; the table for more would weigh on every phone.
  static constexpr std::size_t kMostQuasi = 256;
  static_assert(kMostQuasi <= boost::random::default_sobol_table::max_dimension);

  std::mt19937_64 random_;
  std::size_t quasi_;
  boost::random::sobol sobol_;
  std::vector<std::uint64_t> shifts_;
  bool first_ = true;
};

/// The standard normal's value with so much below it. 52 digits and the middle of their cell: never
/// 0, never 1.
double normal_at(std::uint64_t digits) {
  using Quick = boost::math::policies::policy<boost::math::policies::promote_double<false>>;
  const boost::math::normal_distribution<double, Quick> normal;
  return boost::math::quantile(normal, std::ldexp(static_cast<double>(digits >> 12) + 0.5, -52));
}

double at_share(const std::vector<double>& sorted, double share) {
  const double place = share * static_cast<double>(sorted.size()) - 0.5;
  if (place <= 0) return sorted.front();
  const auto below = static_cast<std::size_t>(place);
  if (below + 1 >= sorted.size()) return sorted.back();
  return std::lerp(sorted[below], sorted[below + 1], place - static_cast<double>(below));
}

}  // namespace

std::vector<std::vector<double>> sample_minutes(std::span<const double> medians,
                                                std::span<const double> spreads,
                                                const SampleOptions& options) {
  assert(medians.size() == spreads.size());
  const std::size_t draws = std::bit_ceil(std::clamp<std::size_t>(options.draws, 1, kMostDraws));
  const double share = std::clamp(options.common_share, 0.0, 1.0);
  ShiftedSobol sobol(medians.size() + 1, options.seed);

  std::vector<std::vector<double>> minutes(draws);
  for (std::vector<double>& draw : minutes) {
    const std::vector<std::uint64_t> point = sobol.next();
    const double common = std::sqrt(share) * normal_at(point[0]);
    for (std::size_t i = 0; i < medians.size(); ++i) {
      const double own = std::sqrt(1 - share) * normal_at(point[i + 1]);
      draw.push_back(snapped_minutes(medians[i] * std::exp(spreads[i] * (common + own))));
    }
  }
  return minutes;
}

Quantiles quantiles_of(std::vector<double> values) {
  if (values.empty()) return {};
  std::ranges::sort(values);
  return {at_share(values, 0.5), at_share(values, 0.8)};
}

}  // namespace chipfall
