#pragma once

#include "core/shop/shop.h"

/// From minutes at a machine to grams of chips and dust.
namespace chipfall {

/// Mass over volume in kg/m3 of wood with specific gravity G (oven-dry mass over the volume at
/// moisture M): rho = 1000 G (1 + M/100). Source: Wood Handbook (FPL-GTR-282), ch. 4, eq. 4-8.
double density_kg_per_m3(double specific_gravity, double moisture_percent);
double density_kg_per_m3(const Stock& stock);

/// Solid volume taken off per minute while the tool is in the wood, m3/min: kerf x depth x feed for
/// saws, width x depth x feed for planing, area rate x depth for sanding, as given otherwise.
double volume_rate_m3_per_min(const Cut& cut);

/// The kind's class shares as this stock breaks: its finer_share of every coarser class is fine.
PerClass class_shares(const MachineKind& kind, const Stock& stock);

/// Grams of each class made in `minutes` logged at the machine, of which only the cutting share
/// is spent in the wood. Linear in minutes.
PerClass removal_g(const MachineKind& kind, const Stock& stock, double minutes);

/// Loose volume over solid volume of each class.
///
/// Shavings 4.00, chips 2.86 (pulp chips, loose) and coarse dust 2.50 (sawdust): Briggs 1994,
/// Forest Products Measurements and Conversion Factors, table 7-1. Fine dust 3.0: loose over solid
/// oven-dry density averages .332 over eleven species (Thompson & Darwin, Forest Products Journal).
inline constexpr PerClass kExpansion{4.00, 2.86, 2.50, 3.0};

/// Loose m3 that `grams` of a stock with this density take up.
double loose_volume_m3(const PerClass& grams, double solid_kg_per_m3);

/// Solid density assumed for dust whose stock is no longer known: between the softwoods' 450 and
/// the hardwoods' 700 kg/m3 at 12 % [c.p.].
inline constexpr double kUnknownStockKgPerM3 = 600;

}  // namespace chipfall
