#pragma once

#include <vector>

#include "core/duty/duty.h"
#include "core/duty/zones.h"

/// The rules that turn a session and the shop's state into the duties beside cleaning zones. Each
/// raises the standard duties (checklists/duties.textproto, and the sheet's own) whose `when` names
/// it, and fills in {machine}, {bin}, {zone}, {collector}, {minutes}:
///
///   machine used   one duty for each machine used, its steps the kind's `resets`
///   spark          for each machine used that throws sparks
///   always, oily rags, glue    once, when the session says so
///   scraps         once, when wood or sheet goods were sawn
///   bin empty      for each bin that stands at its empty_at now or will after this session
///   bin look       for each bin that caught much and that nobody has looked into
///   filter clean   for each collector whose filter has caught its filter_clean_g of fine dust
///   collector off  for each ducted collector that ran
///   filter timer   once, when fine dust hangs in the air and the shop has ceiling filters
///   common dust    once, sized to the fine dust that the session let go
///   lock-up        none: the closing volunteer's
namespace chipfall {

/// What the air is like when the session ends.
struct AirOutlook {
  double mg_per_m3 = 0;
  double clearance_minutes = 0;  ///< until 99 % is gone, all filters running
  double timer_minutes = 0;      ///< the step to set; 0: no filter, or no need
  double mask_minutes = 0;       ///< until the air is below kMaskAbove_mg_per_m3
};
AirOutlook air_outlook(const Shop& shop, const SessionDust& dust);

/// NIOSH recommended exposure limit for wood dust (Pocket Guide 0667): masks on above it.
inline constexpr double kMaskAbove_mg_per_m3 = 1;
/// Filters are set from a tenth of that on [c.p.].
inline constexpr double kTimerAbove_mg_per_m3 = 0.1;
inline constexpr double kClearanceShare = 0.99;

/// How full a bin will be taken to be where nobody has looked [c.p.].
inline constexpr double kUnseenFill = 0.5;
/// A session that adds this much to such a bin asks for a look.
inline constexpr double kMuchCaught = 0.1;

/// Fill before and after the session, and whether the former was seen or is taken to be.
struct BinFill {
  double before = 0;
  double after = 0;
  bool known = false;
};
BinFill bin_fill(const Shop& shop, const ShopState& state, const SessionDust& dust, Index bin);

/// Mass in kg of the bin and its contents at this fill, at the bulk density of what it caught; of
/// loose sawdust in between softwood and hardwood where it caught nothing.
double mass_kg(const Shop& shop, const SessionDust& dust, Index bin, double fill_share);

/// Carrying out and tipping what is in a bin, on top of the standard duty's minutes [c.p.].
inline constexpr double kEmpty_minutes_per_l = 0.03;

/// Fine dust in g that one minute of the common duty stands for [c.p.]: a vac on a surface that
/// holds 10 g/m2 takes about 25 g a minute.
inline constexpr double kCommonFine_g_per_min = 25;
inline constexpr double kLeastCommon_minutes = 2;
inline constexpr double kMostCommon_minutes = 10;
/// Less fine dust than this owes nothing to the common backlog.
inline constexpr double kLeastCommonFine_g = 1;

/// All duties of the rules above, unordered.
std::vector<Duty> standing_duties(const Shop& shop, const ShopState& state, const Session& session,
                                  const SessionDust& dust, const std::vector<ZoneCase>& cases);

}  // namespace chipfall
