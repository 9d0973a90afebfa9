#include "core/bins/lifting.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace chipfall {
namespace {

/// From here up the hands count as high in tables 5 and 7.
constexpr double kHighHands_cm = 75;

/// Table 5: lifts per minute; then FM for up to 1, 2 and 8 h, low hands and high hands.
/// Rows 7, 9, 11, 13 and 14 [memory], the others read in the source.
struct FrequencyRow {
  double lifts_per_minute;
  std::array<double, 6> fm;
};
constexpr std::array<FrequencyRow, 18> kTable5{{
    {0.2, {1.00, 1.00, .95, .95, .85, .85}},
    {0.5, {.97, .97, .92, .92, .81, .81}},
    {1, {.94, .94, .88, .88, .75, .75}},
    {2, {.91, .91, .84, .84, .65, .65}},
    {3, {.88, .88, .79, .79, .55, .55}},
    {4, {.84, .84, .72, .72, .45, .45}},
    {5, {.80, .80, .60, .60, .35, .35}},
    {6, {.75, .75, .50, .50, .27, .27}},
    {7, {.70, .70, .42, .42, .22, .22}},
    {8, {.60, .60, .35, .35, .18, .18}},
    {9, {.52, .52, .30, .30, .00, .15}},
    {10, {.45, .45, .26, .26, .00, .13}},
    {11, {.41, .41, .00, .23, .00, .00}},
    {12, {.37, .37, .00, .21, .00, .00}},
    {13, {.00, .34, .00, .00, .00, .00}},
    {14, {.00, .31, .00, .00, .00, .00}},
    {15, {.00, .28, .00, .00, .00, .00}},
    {15.000001, {.00, .00, .00, .00, .00, .00}},
}};

}  // namespace

double LiftMultipliers::product() const {
  return horizontal * vertical * distance * asymmetry * frequency * coupling;
}

double horizontal_multiplier(double hands_from_ankles_cm) {
  if (hands_from_ankles_cm > 63) return 0;
  return 25 / std::max(25.0, hands_from_ankles_cm);
}

double vertical_multiplier(double hands_cm) {
  return hands_cm > 175 ? 0 : 1 - 0.003 * std::abs(hands_cm - 75);
}

double distance_multiplier(double travel_cm) {
  return travel_cm > 175 ? 0 : 0.82 + 4.5 / std::max(25.0, travel_cm);
}

double asymmetry_multiplier(double twist_deg) {
  return twist_deg > 135 ? 0 : 1 - 0.0032 * twist_deg;
}

double coupling_multiplier(Grip grip, double hands_cm) {
  switch (grip) {
    case Grip::kGood:
      return 1;
    case Grip::kFair:
      return hands_cm < kHighHands_cm ? 0.95 : 1;
    case Grip::kPoor:
      return 0.90;
  }
  return 0.90;
}

double frequency_multiplier(double lifts_per_minute, double hours, double hands_cm) {
  const size_t column = (hours <= 1   ? 0u
                         : hours <= 2 ? 2u
                                      : 4u) +
                        (hands_cm < kHighHands_cm ? 0u : 1u);
  const double f = std::max(kTable5.front().lifts_per_minute, lifts_per_minute);
  for (size_t i = 1; i < kTable5.size(); ++i) {
    const FrequencyRow& low = kTable5[i - 1];
    const FrequencyRow& high = kTable5[i];
    if (f > high.lifts_per_minute) continue;
    const double part = (f - low.lifts_per_minute) / (high.lifts_per_minute - low.lifts_per_minute);
    return low.fm[column] + part * (high.fm[column] - low.fm[column]);
  }
  return 0;
}

LiftMultipliers multipliers_at(const Lift& lift, double hands_cm) {
  return {horizontal_multiplier(lift.hands_from_ankles_cm),
          vertical_multiplier(hands_cm),
          distance_multiplier(std::abs(lift.hands_end_cm - lift.hands_start_cm)),
          asymmetry_multiplier(lift.twist_deg),
          frequency_multiplier(0.2, 1, hands_cm),
          coupling_multiplier(lift.grip, hands_cm)};
}

double recommended_limit_kg(const Lift& lift) {
  return kLoadConstant_kg * std::min(multipliers_at(lift, lift.hands_start_cm).product(),
                                     multipliers_at(lift, lift.hands_end_cm).product());
}

double lifting_index(double mass_kg, const Lift& lift) {
  const double limit = recommended_limit_kg(lift);
  return limit > 0 ? mass_kg / limit : HUGE_VAL;
}

}  // namespace chipfall
