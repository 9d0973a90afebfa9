#include "core/duty/minutes.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace chipfall {
namespace {

/// Distance in m and mean speed in m/s over it.
struct Walk {
  double distance_m;
  double speed_m_per_s;
};
constexpr std::array<Walk, 4> kWalks{{{1, 0.501}, {4, 0.864}, {10, 1.092}, {89, 1.288}}};

constexpr double kNormal80 = 0.8416212335729143;  // standard normal, 80 %

}  // namespace

double snapped_minutes(double minutes) { return std::nearbyint(minutes * 0x1p30) * 0x1p-30; }

double walk_minutes(double distance_m) {
  double far_m = 0;
  double seconds = 0;
  double pace_s_per_m = 0;
  for (const Walk& walk : kWalks) {
    const double until_s = walk.distance_m / walk.speed_m_per_s;
    pace_s_per_m = (until_s - seconds) / (walk.distance_m - far_m);
    if (distance_m <= walk.distance_m) break;
    far_m = walk.distance_m;
    seconds = until_s;
  }
  return (seconds + (distance_m - far_m) * pace_s_per_m) / 60;
}

double clutter_factor(Clutter clutter) {
  switch (clutter) {
    case Clutter::kClear:
      return 1;
    case Clutter::kSome:
      return 1.25;
    case Clutter::kCrowded:
      return 1.5;
  }
  return 1.25;
}

double passes(double load_g_per_m2, double target_g_per_m2, double pickup_share) {
  if (load_g_per_m2 <= target_g_per_m2) return 1;
  return std::max(1.0, std::log(target_g_per_m2 / load_g_per_m2) / std::log1p(-pickup_share));
}

double errand_minutes(const Errand& errand) {
  return kFetch_minutes + walk_minutes(distance(errand.hook, errand.at)) +
         walk_minutes(distance(errand.from, errand.at));
}

double zone_minutes(const ZoneWork& work) {
  const double n = passes(work.load_g_per_m2, work.target_g_per_m2, work.method.pickup_share);
  const double cleaning =
      n * work.area_m2 / work.method.area_m2_per_min * clutter_factor(work.clutter);
  return std::max(kLeast_minutes,
                  errand_minutes(work.errand) + cleaning + kCarry_minutes_per_l * work.loose_l);
}

double p80_minutes(double median_minutes, double spread) {
  return median_minutes * std::exp(kNormal80 * spread);
}

}  // namespace chipfall
