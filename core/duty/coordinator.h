#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/duty/bin_past.h"

/// What the coordinator is told beside the bins: machines out, supplies, layers, how well the
/// estimates held, where the shop falls behind. Never who: kind by design, a coordinator sees where
/// the shop needs help, not a ranking of people.
///
/// Days are those of DayOf, with their fraction.
namespace chipfall {

/// What to try before a machine is tagged out, mildest first: a stop still latched, a card or
/// permit, its guard or cover not quite closed, the breaker, a control box that wants restarting;
/// for a machine on extraction also its gate and collector. Ends with what never to do. [c.p.]
std::vector<std::string> first_things_to_try(const Shop& shop, Index machine);

/// A word on a supply: low, or restocked.
struct SupplyFact {
  std::string id;
  std::int64_t at_ms = 0;
  std::string supply;
  bool low = false;
  std::optional<double> amount;  ///< low: what is left; restocked: what was added
};

struct SupplyStock {
  Index supply = kNone;
  std::optional<double> left;  ///< counted since the last known figure; never below 0
  bool low = false;            ///< at low_at or below, or told to be low and not restocked since
  std::string text;            ///< "bags left: 4; order at 3"
};

/// Of every supply of the sheet, low ones first.
///
/// A count begins with "so many left"; restocking adds to it (or begins it, taken as all there is),
/// each replaced bag takes one off. Entries that come twice count once; any order of the list gives
/// the same.
std::vector<SupplyStock> supplies_left(const Shop& shop, std::vector<SupplyFact> facts,
                                       const BinPasts& bins, const DayOf& day_of, double now_day);

/// What lies on a zone now and what a usual week adds, after cleaning.
struct LayerNow {
  Index zone = kNone;  ///< kNone: the open floor
  double area_m2 = 0;
  PerClass lying_g{};
  PerClass weekly_g{};
};

struct LayerNotice {
  Index zone = kNone;
  double share_of_limit = 0;
  double load_g_per_m2 = 0;
  std::optional<double> days_to_limit;  ///< 0: reached; absent: not within kLayerForecast_days
  std::string text;
};

inline constexpr double kLayerForecast_days = 120;

/// Zones that are half-way to the housekeeping limit (kWatchedShareOfLimit) or will reach it within
/// kLayerForecast_days, the soonest first. Only dust that burns as dust counts (limited_g).
std::vector<LayerNotice> layer_notices(const Shop& shop, const std::vector<LayerNow>& layers,
                                       double now_day);

/// A duty that was timed, by nobody in particular.
struct TimedDuty {
  double day = 0;
  DutyKind kind = DutyKind::kZone;
  double promised_minutes = 0;
  double taken_minutes = 0;
};

struct EstimatesHeld {
  int monday = 0;  ///< the day the week began
  DutyKind kind = DutyKind::kZone;
  int duties = 0;
  double promised_minutes = 0;
  double taken_minutes = 0;
  std::string text;  ///< empty where there were too few to say anything
};

/// Times so many times off are those of a forgotten phone, or of two taps in a row [c.p.].
inline constexpr double kForgottenTimes = 8;
/// Fewer timed duties than this say little about a week.
inline constexpr int kFewDuties = 3;
inline constexpr double kFewMinutes = 5;  ///< promised, likewise
inline constexpr int kEstimateWeeks = 3;

/// By week and kind, newest week first, over the last kEstimateWeeks.
std::vector<EstimatesHeld> estimates_held(const std::vector<TimedDuty>& timed, double now_day);

/// How a zone's duty ended, by nobody in particular.
struct ZoneEnding {
  Index zone = kNone;
  double day = 0;
  bool passed_on = false;
};

struct FallenBehind {
  Index zone = kNone;
  int passed_on = 0;
  int listed = 0;
  std::string text;
};

inline constexpr double kBehind_days = 56;
/// A zone is named when it was passed on twice or more, and every third time or more [c.p.].
inline constexpr int kLeastPassedOn = 2;
inline constexpr double kLeastPassedShare = 1.0 / 3;

/// Zones passed on most often in the last kBehind_days, at most five.
std::vector<FallenBehind> fallen_behind(const Shop& shop, const std::vector<ZoneEnding>& endings,
                                        double now_day);

}  // namespace chipfall
