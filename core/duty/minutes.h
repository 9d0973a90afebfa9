#pragma once

#include "core/shop/shop.h"

/// How long cleaning takes.
namespace chipfall {

/// Minutes to walk this far from stop to stop. Times through the means of six trials at 1, 4, 10
/// and 89 m (0.501, 0.864, 1.092, 1.288 m/s), linear between: short walks are slow ones.
/// Source: Dryad dataset doi:10.5061/dryad.95115.
double walk_minutes(double distance_m);

/// The minutes to a 2^-30th, 56 nanoseconds. Logarithms and roots of different processors and
/// libraries differ in their last digits, and a search that compares sums of them would take
/// another way on every device; what begins with rounded minutes goes the same way on all of them.
double snapped_minutes(double minutes);

/// How much longer a pass takes around things. Crowded 1.5: obstructed against clear floor, 30 to
/// 20 min per 1000 ft2 (ISSA 1985); "some" lies half-way [c.p.].
double clutter_factor(Clutter clutter);

/// Passes from one load to another at a pick-up share per pass: ln(target/load)/ln(1 - pickup),
/// and at least 1: what is cleaned at all is gone over once. From L/t = exp(-k n), k = -ln(1 - p).
double passes(double load_g_per_m2, double target_g_per_m2, double pickup_share);

/// What it takes to get from one place to cleaning another.
struct Errand {
  Point from;  ///< where people gather
  Point hook;  ///< where the tool hangs
  Point at;
};

/// Cleaning one zone.
struct ZoneWork {
  double area_m2 = 0;
  double load_g_per_m2 = 0;
  double target_g_per_m2 = 5;
  double loose_l = 0;  ///< lying there, as loose volume
  Clutter clutter = Clutter::kSome;
  CleaningMethod method;
  Errand errand;
};

/// Fetching the tool and walking to the zone and from the gathering place, minutes.
double errand_minutes(const Errand& errand);

/// Median minutes: fetch + passes x area/rate + what must be carried away + walk; at least one.
///
/// More dust or more area never gives fewer minutes: with a pick-up share of at least 0.65 and one
/// whole pass at least, area x passes grows with the area also when the load thins out with it.
double zone_minutes(const ZoneWork& work);

/// Taking a tool down, plugging it in, unrolling its hose [c.p.].
inline constexpr double kFetch_minutes = 0.2;
/// Dustpan and shovel work: 20 litres a minute [c.p.].
inline constexpr double kCarry_minutes_per_l = 0.05;
/// Nobody is sent for less.
inline constexpr double kLeast_minutes = 1;
/// Standard deviation of the log of zone minutes before a shop has recorded any [c.p.]: published
/// rates for one task differ by about this much (upright vacuum 20.0 to 22.8, back-pack 6 to 8.6
/// min per 1000 ft2, ISSA), and shops by more.
inline constexpr double kZoneSpread = 0.4;

/// Minutes that four evenings in five need no more than: median x exp(0.8416 spread).
double p80_minutes(double median_minutes, double spread);

}  // namespace chipfall
