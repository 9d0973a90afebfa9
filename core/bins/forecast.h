#pragma once

#include <array>
#include <optional>
#include <vector>

#include "core/bins/history.h"

/// When a bin will be full, if the shop goes on as it did.
namespace chipfall {

/// What one weekday adds to a bin, before the rate factor.
struct DayLoad {
  double mean_share = 0;  ///< of the volume
  double spread = 0;      ///< of its log, so that `pushed` has the mean and variance of the days
};

/// By weekday: day number modulo 7, so that the caller's day 0 decides which weekday is 0.
using Rhythm = std::array<DayLoad, 7>;

/// The rhythm reaches back no further: shops change.
inline constexpr int kRhythm_days = 182;
/// Weeks that the average day counts for on each weekday, before it has weeks of its own [c.p.].
inline constexpr double kAverageWeeks = 0.5;

/// The rhythm of the pushes from `first_day` to `last_day`, both whole days and both counted, days
/// without a session as well: leaving those out would fill a quiet shop's bins. Duplicates count
/// once; pushes that are not above 0 and finite count nothing. No days, no load.
Rhythm rhythm_of(std::vector<BinEvent> events, int first_day, int last_day);

inline constexpr int kForecast_days = 60;

/// Days from now at whose end the chance of being full first reaches 50 and 90 %: 0 when it has
/// already, absent when not within kForecast_days.
struct Forecast {
  std::optional<int> days_to_half_chance;
  std::optional<int> days_to_nine_in_ten;

  bool operator==(const Forecast&) const = default;
};

/// `belief` stands at the end of the day `today`; the first day to come is today + 1. `full_at` as
/// in `chance_full`. Nobody empties the bin meanwhile.
Forecast forecast(const Belief& belief, const Rhythm& rhythm, int today, double full_at = 1);

}  // namespace chipfall
