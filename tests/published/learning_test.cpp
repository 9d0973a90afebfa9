#include <cmath>
#include <vector>

#include <doctest/doctest.h>

#include "core/duty/learn.h"
#include "published.h"

namespace chipfall {
namespace {

using test::printed;
using test::within;

// kalmanfilter.net, "Kalman Filter in one dimension", height of a building (read): an altimeter of
// standard deviation 5 m, a guess of 60 m with 15 m, ten readings
constexpr double kHeights_m[] = {49.03, 48.44, 55.21, 49.98, 50.6,
                                 52.61, 45.87, 42.64, 48.26, 55.84};
constexpr Normal kGuess{60, 225};
constexpr double kReading_m2 = 25;

TEST_CASE("ten readings of a building's height end where the Kalman filter's example does") {
  Normal height = kGuess;
  for (const double reading : kHeights_m) height = update(height, reading, kReading_m2);
  // The same source's last step
  CHECK(height.mean == printed(49.9596, 4));
  CHECK(height.variance == printed(2.4725, 4));
}

TEST_CASE("reading by reading is the conjugate update with all of them at once") {
  // Gelman et al., Bayesian Data Analysis, eq. 2.12 [memory]: precisions add, means by precision
  Normal height = kGuess;
  double precision = 1 / kGuess.variance;
  double weighed = kGuess.mean / kGuess.variance;
  for (const double reading : kHeights_m) {
    height = update(height, reading, kReading_m2);
    precision += 1 / kReading_m2;
    weighed += reading / kReading_m2;
    CHECK(height.mean == within(1e-13, weighed / precision));
    CHECK(height.variance == within(1e-13, 1 / precision));
  }
}

TEST_CASE("a prior that knows nothing leaves the mean of the readings") {
  Normal height{0, 1e12};
  for (const double reading : kHeights_m) height = update(height, reading, kReading_m2);
  CHECK(height.mean == within(1e-10, 49.848));   // (computed)
  CHECK(height.variance == within(1e-10, 2.5));  // 25/10
}

TEST_CASE("a shop at the newer published rate is found slower than the older one, by just that") {
  // Upright vacuum 20.0 (1985) to 22.80 (1994), min per 1000 ft2, ISSA (read): ratio 1.14. The
  // prior holds back a little of it.
  const std::vector<Record> records(30, Record{20.0, 22.8});
  const Learned learned = learn({}, records);
  CHECK(learned.factor_median > 1.13);
  CHECK(learned.factor_median < 1.14);
}

}  // namespace
}  // namespace chipfall
