#include <doctest/doctest.h>

#include "core/duty/minutes.h"
#include "published.h"

namespace chipfall {
namespace {

using test::printed;

double mean_m_per_s(double distance_m) { return distance_m / walk_minutes(distance_m) / 60; }

// Dryad dataset doi:10.5061/dryad.95115 (read), walks from stop to stop, mean of six trials
TEST_CASE("walks from stop to stop are as fast as those that were timed") {
  CHECK(mean_m_per_s(1) == printed(0.501, 3));
  CHECK(mean_m_per_s(4) == printed(0.864, 3));
  CHECK(mean_m_per_s(10) == printed(1.092, 3));
  CHECK(mean_m_per_s(89) == printed(1.288, 3));
}

// The same: a walk inside a shop runs at 0.5 to 1.1 m/s
TEST_CASE("a walk of less than ten metres is slower than 1.1 m/s") {
  for (double distance_m = 0.25; distance_m <= 10; distance_m += 0.25) {
    CAPTURE(distance_m);
    CHECK(mean_m_per_s(distance_m) < 1.1);
    CHECK(mean_m_per_s(distance_m) > 0.5);
  }
}

// The same: the longer the walk, the less its two stops count
TEST_CASE("longer walks are faster ones") {
  for (double distance_m = 1.5; distance_m <= 89; distance_m += 0.5) {
    CAPTURE(distance_m);
    CHECK(mean_m_per_s(distance_m) > mean_m_per_s(distance_m - 0.5));
  }
}

}  // namespace
}  // namespace chipfall
