#pragma once

#include "core/shop/shop.h"

/// May one person lift the full bin? The revised NIOSH lifting equation.
/// Source: Waters, Putz-Anderson, Garg, DHHS (NIOSH) Publication 94-110 (1994).
namespace chipfall {

/// The multipliers of one end of a lift, each 0 to 1.
struct LiftMultipliers {
  double horizontal =
      1;                 ///< HM = 25/H; below 25 cm reads as 25, beyond 63 cm nothing may be lifted
  double vertical = 1;   ///< VM = 1 - 0.003 |V - 75|; above 175 cm 0
  double distance = 1;   ///< DM = 0.82 + 4.5/D; below 25 cm reads as 25, above 175 cm 0
  double asymmetry = 1;  ///< AM = 1 - 0.0032 A; above 135 degrees 0
  double frequency = 1;  ///< FM, table 5
  double coupling = 1;   ///< CM, table 7
  double product() const;
};

double horizontal_multiplier(double hands_from_ankles_cm);
double vertical_multiplier(double hands_cm);
double distance_multiplier(double travel_cm);
double asymmetry_multiplier(double twist_deg);
double coupling_multiplier(Grip grip, double hands_cm);

/// FM by lifts per minute (below 0.2 reads as 0.2, above 15 nothing), hours of such work (up to 1,
/// 2 or 8) and hands' height; linear between the rows of table 5.
double frequency_multiplier(double lifts_per_minute, double hours, double hands_cm);

/// Of one end of the lift: where the hands are at `hands_cm`, over the lift's whole travel.
LiftMultipliers multipliers_at(const Lift& lift, double hands_cm);

/// Load constant: what most healthy workers may lift in the best posture.
inline constexpr double kLoadConstant_kg = 23;

/// Recommended weight limit, the lesser of both ends, for emptying one bin now and then (0.2 lifts
/// a minute, up to an hour).
double recommended_limit_kg(const Lift& lift);

/// Mass over recommended limit: above 1, two people. Infinite where nothing may be lifted.
double lifting_index(double mass_kg, const Lift& lift);

}  // namespace chipfall
