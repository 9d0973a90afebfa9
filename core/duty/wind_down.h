#pragma once

#include "core/duty/duty.h"
#include "core/duty/rules.h"
#include "core/duty/zones.h"

/// The member's list: the parent of all rules.
namespace chipfall {

struct WindDown {
  std::vector<Duty> duties;  ///< in working order
  std::vector<ZoneCase> zones;
  SessionDust dust;
  AirOutlook air;
  /// Person-minutes of the whole list. Duties run long together, not by turns: the same tired
  /// crew does them all. So medians add up to the median and 80 % figures to the 80 % figure.
  double minutes_median = 0;
  double minutes_p80 = 0;
  bool minimum_applied = false;  ///< raised to the shop's minimum
  std::vector<std::string> cautions;
  std::vector<std::string> notes;  ///< what was assumed for want of a figure
};

/// Sums the duties' minutes, raised to the shop's minimum.
void add_up(const Shop& shop, WindDown& list);

/// From a session to its list. `overlay` is that of the shop, made once.
WindDown wind_down(const Shop& shop, const Overlay& overlay, const ShopState& state,
                   const Session& session);

}  // namespace chipfall
