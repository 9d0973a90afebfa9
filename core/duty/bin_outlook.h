#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/bins/forecast.h"
#include "core/bins/lifting.h"
#include "core/duty/bin_past.h"

/// What the shop's past says about each bin now and in the days to come.
namespace chipfall {

/// May one person carry it, full to the brim?
struct FullLift {
  LiftMultipliers start;  ///< hands where the lift begins
  LiftMultipliers end;    ///< and where it ends
  double limit_kg = 0;    ///< the lesser of both, times the load constant
  double index = 0;       ///< mass over limit
};

struct BinOutlook {
  Index bin = kNone;
  Belief belief;
  double expected_fill = 0;
  double chance_full = 0;           ///< to the brim
  double chance_to_empty = 0;       ///< at its empty_at or beyond
  double rate = 1;                  ///< expected rate factor
  Forecast due;                     ///< days to its empty_at
  Forecast full;                    ///< days to the brim
  bool known = false;               ///< somebody looked into it or emptied it, ever
  bool look_first = false;          ///< see kLookFirst
  std::string evidence;             ///< the last word on it: "seen half on Tuesday"
  std::vector<std::string> doubts;  ///< the latest look, explained where it surprised
  /// Expected to have fallen since it was last emptied, before the rate factor; since the first
  /// that is remembered where nobody has emptied it.
  double since_emptied_m3 = 0;
  bool emptied_once = false;
  double full_kg = 0;            ///< bin and contents, to the brim
  double bulk_kg_per_m3 = 0;     ///< of the contents
  std::optional<FullLift> lift;  ///< where the sheet says how it is lifted
  int people = 1;                ///< who carry it, full
};

/// A bin that nobody ever looked into is worth a look from this share of its volume on [c.p.].
inline constexpr double kWorthALook = 0.1;
/// Where nobody ever looked, or so many times its volume should have fallen since anybody last
/// did, somebody may have emptied it without a word [c.p.]: look before you walk there with a bag.
inline constexpr double kLookFirst = 2.5;
/// Looks older than this are not worth an explanation any more [c.p.].
inline constexpr double kDoubtsKept_days = 21;
/// From this expected rate factor on, a bin fills faster or slower than its machines suggest, and
/// the coordinator may want to know why [c.p.].
inline constexpr double kNotableRate = 1.5;

/// All bins, in the sheet's order, as they stand at `now_day` (of the same DayOf). Each day of the
/// last kRhythm_days counts for the rhythm, from the first day of which anything is known on.
std::vector<BinOutlook> bin_outlooks(const Shop& shop, const BinPasts& pasts, double now_day);

/// Most pressing first: by the chance that it is to be emptied, then by expected fill.
std::vector<BinOutlook> in_order_of_need(std::vector<BinOutlook> outlooks);

/// What the dust account needs to let a bin that is perhaps full choke.
BinState state_of(const BinOutlook& outlook, double filter_fine_g = 0);

/// "Tuesday", "yesterday", "today", or with the date where it is more than six days off:
/// "Tuesday 3 November". `day` may carry a fraction.
std::string say_day(double day, double now_day);
/// Always with its date.
std::string say_date(double day);
/// As `say_day`, with "on" where it needs one: "on Tuesday", but "yesterday".
std::string say_on_day(double day, double now_day);

/// "due by Tuesday, probably full by Friday (9 in 10 by Sunday)"; "probably full now (7 in 10)";
/// "due now; not full within the next 60 days". Due is its empty_at, with a chance of one half.
std::string say_forecast(const BinOutlook& outlook, double now_day);

/// A sentence where it fills kNotableRate times as fast as its machines suggest, or as slow; else
/// empty.
std::string say_pace(const BinOutlook& outlook);

/// "1 in 10" to "9 in 10", beyond them "less than 1 in 20" and "more than 19 in 20".
std::string say_chance(double chance);

}  // namespace chipfall
