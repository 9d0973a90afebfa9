#include <cmath>
#include <numbers>

#include <doctest/doctest.h>
#include <boost/math/distributions/non_central_chi_squared.hpp>

#include "core/dust/throw.h"
#include "published.h"

namespace chipfall {
namespace {

using test::printed;
using test::within;

/// Far enough to stand for infinity: 2e-16 of the mass lies beyond 8.5.
constexpr double kFar = 100;

constexpr PerClass kOneClass{0, 0, 1, 0};

std::array<ThrowKernel, kChipClasses> thrown(double offset_m, double along_m, double across_m) {
  std::array<ThrowKernel, kChipClasses> kernels;
  kernels[kCoarse] = {offset_m, along_m, across_m};
  return kernels;
}

/// Lengths are printed to a tenth of a millimetre in 10 m: the radius is found to a millimetre.
constexpr double kSd_m = 10;

TEST_CASE("a circle of 1.177 standard deviations holds half of a round throw") {
  // r = s sqrt(-2 ln(1 - p)): .50 1.17741 s; .95 2.44775 s (computed)
  CHECK(radius_holding_m(thrown(0, kSd_m, kSd_m), kOneClass, 0.50) / kSd_m ==
        within(1e-4, 1.17741));
  CHECK(radius_holding_m(thrown(0, kSd_m, kSd_m), kOneClass, 0.95) / kSd_m ==
        within(1e-4, 2.44775));
}

TEST_CASE("a polygon close to that circle holds half") {
  // The same radius, .50 1.17741 (computed). A disc of 90 corners with the circle's area loses what
  // its corners win to second order: 2e-6 is left
  CHECK(normal_mass(disc({0, 0}, 1.17741, 90)) == within(1e-5, 0.5));
  CHECK(normal_mass(disc({0, 0}, 2.44775, 90)) == within(1e-5, 0.95));
}

TEST_CASE("a round throw from afar is held as the offset circle says") {
  // Square distance from a point offset by m: non-central chi-squared of 2 degrees with
  // non-centrality m^2 (computed with Boost.Math's distribution)
  for (double offset : {0.5, 1.0, 2.0, 3.0}) {
    for (double share : {0.5, 0.95}) {
      CAPTURE(offset);
      CAPTURE(share);
      const boost::math::non_central_chi_squared square(2, offset * offset);
      CHECK(radius_holding_m(thrown(offset * kSd_m, kSd_m, kSd_m), kOneClass, share) / kSd_m ==
            within(3e-4, std::sqrt(quantile(square, share))));
    }
  }
}

TEST_CASE("squares around the throw hold the squared mass of their sides") {
  // (2 Phi(k) - 1)^2: k = 1 .466065; k = 2 .911070 (computed)
  CHECK(normal_mass(rectangle(-1, -1, 1, 1)) == printed(.466065, 6));
  CHECK(normal_mass(rectangle(-2, -2, 2, 2)) == printed(.911070, 6));
}

TEST_CASE("a strip across the throw holds what the table of the normal says") {
  // Abramowitz & Stegun, Table 26.1 [memory]: Phi(1) .8413447461, Phi(1.96) .9750021049, Phi(2)
  // .9772498681, Phi(3) .9986501020
  constexpr double kPhi1 = .8413447461;
  constexpr double kPhi1_96 = .9750021049;
  constexpr double kPhi2 = .9772498681;
  constexpr double kPhi3 = .9986501020;
  const auto strip = [](double a, double b) { return normal_mass(rectangle(a, -kFar, b, kFar)); };
  CHECK(strip(0, 1) == printed(kPhi1 - 0.5, 9));
  CHECK(strip(1, 2) == printed(kPhi2 - kPhi1, 9));
  CHECK(strip(2, 3) == printed(kPhi3 - kPhi2, 9));
  CHECK(strip(-1.96, 1.96) == printed(2 * kPhi1_96 - 1, 9));
  CHECK(strip(-kFar, 3) == printed(kPhi3, 9));
  CHECK(normal_mass(rectangle(1, 2, kFar, kFar)) == printed((1 - kPhi1) * (1 - kPhi2), 9));
}

TEST_CASE("a quadrant of a slanting throw holds Sheppard's share") {
  // Sheppard 1899 [memory]: both of two normals with correlation r above their means has the
  // probability 1/4 + asin(r)/(2 pi)
  for (double r : {-0.9, -0.5, 0.0, 0.25, 0.5, 0.8, 0.99}) {
    CAPTURE(r);
    // Unit variances and correlation r: the axes lie at 45 degrees, with variances 1 +- r.
    const Throw slanting{{3, -2}, std::numbers::pi / 4, std::sqrt(1 + r), std::sqrt(1 - r)};
    const Polygon quadrant = rectangle(3, -2, 3 + kFar, -2 + kFar);
    CHECK(normal_mass(whitened(slanting, quadrant)) ==
          within(1e-11, 0.25 + std::asin(r) / (2 * std::numbers::pi)));
  }
}

TEST_CASE("a third of a slanting throw lies in the quadrant at correlation a half") {
  // Sheppard 1899 [memory], r = 1/2: 1/3
  const Throw slanting =
      placed({0.7, std::sqrt(1.5), std::sqrt(0.5)}, {0, 0}, std::numbers::pi / 4);
  const double at = 0.7 * std::numbers::sqrt2 / 2;
  CHECK(normal_mass(whitened(slanting, rectangle(at, at, at + kFar, at + kFar))) ==
        within(1e-11, 1.0 / 3));
}

}  // namespace
}  // namespace chipfall
