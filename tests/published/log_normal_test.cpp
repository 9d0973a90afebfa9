#include <cmath>

#include <doctest/doctest.h>

#include "core/dust/air.h"
#include "core/duty/minutes.h"
#include "published.h"

namespace chipfall {
namespace {

using test::printed;
using test::within;

TEST_CASE("four evenings in five lie below the normal's 80 % point of the log") {
  // Abramowitz & Stegun, Table 26.5 [memory]: standard normal, 80 %: 0.84162
  CHECK(std::log(p80_minutes(10, 1) / 10) == printed(0.84162, 5));
  CHECK(std::log(p80_minutes(10, 0.4) / 10) == printed(0.4 * 0.84162, 5));
}

TEST_CASE("eight equal slices of a dust stand at the normal's odd sixteenths") {
  // Standard normal at 9, 11, 13 and 15 sixteenths (computed): .15731, .48878, .88715, 1.53412
  constexpr double kOddSixteenths[] = {.15731, .48878, .88715, 1.53412};
  const auto sizes = size_slices_um(10, 2);
  for (int i = 0; i < kSizes / 2; ++i) {
    CAPTURE(i);
    CHECK(std::log2(sizes[4 + i] / 10) == printed(kOddSixteenths[i], 5));
    CHECK(std::log2(sizes[3 - i] / 10) == printed(-kOddSixteenths[i], 5));
  }
}

}  // namespace
}  // namespace chipfall
