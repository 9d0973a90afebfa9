#include <cmath>

#include <doctest/doctest.h>

#include "core/dust/air.h"
#include "published.h"

namespace chipfall {
namespace {

/// One gram that nothing but the air change removes: what the source's table takes for granted.
AirAccount floating_gram() {
  AirAccount air;
  air.airborne = {1};
  air.settling_per_s = {0};
  return air;
}

AirRates air_changes_per_hour(double changes) { return {changes / 3600, 0}; }

struct Row {
  double changes_per_hour;
  long minutes_to_99;
  long minutes_to_99_9;
};

// CDC, Guidelines for Environmental Infection Control in Health-Care Facilities (2003), App. B,
// Table B.1, whole (read); minutes rounded half up there
constexpr Row kTableB1[] = {{2, 138, 207}, {4, 69, 104}, {6, 46, 69},  {8, 35, 52}, {10, 28, 41},
                            {12, 23, 35},  {15, 18, 28}, {20, 14, 21}, {50, 6, 8}};

TEST_CASE("air of a mixed room clears as fast as the CDC's table says") {
  for (const Row& row : kTableB1) {
    CAPTURE(row.changes_per_hour);
    const AirRates rates = air_changes_per_hour(row.changes_per_hour);
    CHECK(std::lround(clearance_minutes(floating_gram(), rates, 0.99)) == row.minutes_to_99);
    CHECK(std::lround(clearance_minutes(floating_gram(), rates, 0.999)) == row.minutes_to_99_9);
  }
}

TEST_CASE("the CDC's table holds for air that is blown out as for air that is filtered") {
  for (const Row& row : kTableB1) {
    CAPTURE(row.changes_per_hour);
    const double half = row.changes_per_hour / 2 / 3600;
    CHECK(std::lround(clearance_minutes(floating_gram(), {half, half}, 0.99)) == row.minutes_to_99);
  }
}

TEST_CASE("waiting for a hundredth of the grams is waiting for 99 % clearance") {
  for (const Row& row : kTableB1) {
    CAPTURE(row.changes_per_hour);
    const AirRates rates = air_changes_per_hour(row.changes_per_hour);
    CHECK(std::lround(minutes_until_g(floating_gram(), rates, 0.01)) == row.minutes_to_99);
  }
}

}  // namespace
}  // namespace chipfall
