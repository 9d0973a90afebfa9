#include "core/dust/layer.h"

#include <algorithm>

#include "core/dust/removal.h"
#include "core/shop/units.h"

namespace chipfall {
namespace {

const double kBasicDepth_m = 1.0 / 32 * kMetresPerInch;
const double kBasicDensity_kg_per_m3 = 75 * kKilogramsPerPound / kCubicMetresPerCubicFoot;

}  // namespace

double bulk_density_kg_per_m3(const PerClass& grams, double solid_kg_per_m3) {
  const double volume = loose_volume_m3(grams, solid_kg_per_m3);
  return volume > 0 ? sum(grams) / 1000 / volume : 0;
}

double layer_mm(double load_g_per_m2, double bulk_kg_per_m3) {
  // g/m2 over kg/m3 is mm.
  return bulk_kg_per_m3 > 0 ? load_g_per_m2 / bulk_kg_per_m3 : 0;
}

double layer_limit_mm(double bulk_kg_per_m3) {
  return 1000 * kBasicDepth_m * kBasicDensity_kg_per_m3 / bulk_kg_per_m3;
}

double layer_limit_g_per_m2() { return 1000 * kBasicDepth_m * kBasicDensity_kg_per_m3; }

double limited_g(const PerClass& grams) { return grams[kCoarse] + grams[kFine]; }

double hazard_area_m2(double footprint_m2) {
  return std::min(0.05 * footprint_m2, 1000 * kMetresPerFoot * kMetresPerFoot);
}

}  // namespace chipfall
