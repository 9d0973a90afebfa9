#pragma once

#include "core/shop/shop.h"

/// Depth of settled dust and the housekeeping limit for it.
namespace chipfall {

/// Loose bulk density in kg/m3 of settled dust of the classes `grams`, from stock of this solid
/// density; 0 when there is none.
double bulk_density_kg_per_m3(const PerClass& grams, double solid_kg_per_m3);

/// Depth in mm of `load_g_per_m2` of dust that loose.
double layer_mm(double load_g_per_m2, double bulk_kg_per_m3);

/// Allowed depth in mm: 1/32 in at 75 lb/ft3, deeper in proportion for lighter dust.
/// Source: OSHA memo 2015-04-21 supplementing CPL 03-00-008; NFPA 654, 6.1.3 [memory].
double layer_limit_mm(double bulk_kg_per_m3);

/// The limit as a load, which does not depend on how loosely the dust lies: 953.6 g/m2.
double layer_limit_g_per_m2();

/// Only what burns as a dust counts towards the limit: coarse and fine, not chips and shavings.
double limited_g(const PerClass& grams);

/// A hazard when more than this much floor lies deeper than the limit: 5 % of the footprint, or
/// 1000 ft2 (92.9 m2) in one place. Source: NFPA 654 (2013) 6.1.3.2, read in the OSHA memo.
double hazard_area_m2(double footprint_m2);

}  // namespace chipfall
