#include <doctest/doctest.h>

#include "core/dust/layer.h"
#include "core/shop/units.h"
#include "published.h"

namespace chipfall {
namespace {

using test::printed;
using test::within;

double limit_in(double bulk_lb_per_ft3) {
  const double bulk_kg_per_m3 = bulk_lb_per_ft3 * kKilogramsPerPound / kCubicMetresPerCubicFoot;
  return layer_limit_mm(bulk_kg_per_m3) / 1000 / kMetresPerInch;
}

double hazard_ft2(double footprint_ft2) {
  return hazard_area_m2(footprint_ft2 * kSquareMetresPerSquareFoot) / kSquareMetresPerSquareFoot;
}

TEST_CASE("dust of 75 lb/ft3 may lie a thirty-second of an inch deep") {
  // OSHA memo 2015-04-21 supplementing CPL 03-00-008 (read): 1/32 in (0.8 mm) at 75 lb/ft3
  CHECK(limit_in(75) == within(1e-12, 1.0 / 32));
  CHECK(limit_in(75) * kMetresPerInch * 1000 == printed(0.8, 1));
}

TEST_CASE("lighter dust may lie deeper") {
  // American Wood Council note 2015-06-17 (read): wood shavings 8 lb/ft3, at most 16. Depths by
  // LD = (1/32 in)(75)/BD, NFPA 654, 6.1.3 [memory] (computed)
  CHECK(limit_in(8) == printed(.293, 3));
  CHECK(limit_in(16) == printed(.146, 3));
  // OSHA memo 2015 (quoted): 1/4 in is where light dust is looked at. The density is computed
  CHECK(limit_in(9.375) == within(1e-12, 0.25));
}

TEST_CASE("the depth for wood dust of 18.75 lb/ft3 is that of NFPA 664") {
  // NFPA 664 (2012), 1/8 in (3.2 mm) for wood dust of whatever density (quoted). The density at
  // which both rules agree is computed; below it NFPA 664 asks for more than the formula does
  CHECK(limit_in(18.75) == within(1e-12, 1.0 / 8));
  CHECK(limit_in(18.75) * kMetresPerInch * 1000 == printed(3.2, 1));
}

TEST_CASE("the limit as a load holds at every density") {
  // OSHA memo 2015-04-21, the same rule by mass: 75 lb/ft3 x 1/32 in (computed: .9536 kg/m2)
  CHECK(layer_limit_g_per_m2() == printed(953.6, 1));
  for (double bulk_kg_per_m3 : {128.0, 224.0, 300.0, 1201.0}) {
    CAPTURE(bulk_kg_per_m3);
    CHECK(layer_mm(layer_limit_g_per_m2(), bulk_kg_per_m3) ==
          within(1e-12, layer_limit_mm(bulk_kg_per_m3)));
  }
}

TEST_CASE("a hazard is 5 % of the floor, or 1000 square feet of a large one") {
  // NFPA 654 (2013), 6.1.3.2, read in the OSHA memo of 2015-04-21
  CHECK(hazard_ft2(1500) == within(1e-12, 75));
  CHECK(hazard_ft2(20'000) == within(1e-12, 1000));
  CHECK(hazard_ft2(50'000) == within(1e-12, 1000));
  CHECK(hazard_area_m2(1e6) == printed(92.9, 1));
}

}  // namespace
}  // namespace chipfall
