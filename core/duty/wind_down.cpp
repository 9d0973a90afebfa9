#include "core/duty/wind_down.h"

#include <algorithm>
#include <cmath>

#include "core/duty/cautions.h"
#include "core/duty/learned.h"
#include "core/duty/minutes.h"
#include "core/duty/order.h"

namespace chipfall {

void add_up(const Shop& shop, WindDown& out) {
  out.minutes_median = out.minutes_p80 = 0;
  for (const Duty& duty : out.duties) {
    out.minutes_median += duty.people * duty.minutes;
    out.minutes_p80 += duty.people * p80_minutes(duty.minutes, duty.spread);
  }
  out.minimum_applied = out.minutes_median < shop.policy.minimum_minutes;
  out.minutes_median = std::max(out.minutes_median, shop.policy.minimum_minutes);
  out.minutes_p80 = std::max(out.minutes_p80, shop.policy.minimum_minutes);
}

WindDown wind_down(const Shop& shop, const Overlay& overlay, const ShopState& state,
                   const Session& session) {
  WindDown out;
  out.dust = dust_of(shop, overlay, state, session);
  out.air = air_outlook(shop, out.dust);
  out.zones = zone_cases(shop, overlay, out.dust);
  std::vector<Duty> duties = zone_duties(shop, out.dust, out.zones);
  for (Duty& duty : standing_duties(shop, state, session, out.dust, out.zones)) {
    duties.push_back(std::move(duty));
  }
  apply_learned(state.finished, duties);
  out.duties = in_order(shop, std::move(duties));
  add_up(shop, out);
  out.cautions = cautions_for(shop, session, out.dust, out.zones, out.air);
  out.notes = notes_for(shop, state, session, out.dust);
  return out;
}

}  // namespace chipfall
