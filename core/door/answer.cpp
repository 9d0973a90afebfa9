#include "core/door/answer.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/bins/lifting.h"
#include "core/door/answer_crew.h"
#include "core/dust/layer.h"
#include "core/dust/removal.h"
#include "core/duty/minutes.h"
#include "core/shop/words.h"

namespace chipfall {
namespace {

constexpr int kAnswerFormat = 1;
/// Points of the air curve: enough for a smooth line on a phone.
constexpr int kCurvePoints = 49;

template <typename List>
std::string id_at(const List& list, Index index) {
  return index == kNone ? std::string() : list[index].id;
}

void put_duty(const Shop& shop, const Duty& duty, proto::Duty& out) {
  out.set_id(duty.id);
  out.set_kind(std::string(word(duty.kind)));
  out.set_title(duty.title);
  out.set_why(duty.why);
  out.set_zone(id_at(shop.zones, duty.zone));
  out.set_machine(id_at(shop.machines, duty.machine));
  out.set_bin(id_at(shop.bins, duty.bin));
  out.set_tool(id_at(shop.tools, duty.tool));
  if (duty.tool != kNone) out.set_tool_name(shop.tools[duty.tool].name);
  out.set_minutes(duty.minutes);
  out.set_published_minutes(duty.published_minutes);
  out.set_minutes_p80(p80_minutes(duty.minutes, duty.spread));
  out.set_weight(duty.weight);
  out.set_phase(std::string(word(duty.phase)));
  for (const std::string& id : duty.after) out.add_after(id);
  for (const std::string& step : duty.steps) out.add_steps(step);
  out.set_caution(duty.caution);
  out.set_safety(duty.safety);
  out.set_x_m(duty.at.x);
  out.set_y_m(duty.at.y);
  out.set_grams(duty.grams);
  out.set_area_m2(duty.area_m2);
  out.set_passes(duty.passes);
  out.set_people(duty.people);
  out.set_place(duty.place);
}

void put_zone(const Shop& shop, const ZoneCase& zone, const ZoneDust& dust, proto::ZoneDust& out) {
  out.set_id(id_at(shop.zones, zone.zone));
  out.set_name(name_of(shop, zone.zone));
  out.set_kind(
      std::string(word(zone.zone == kNone ? ZoneKind::kFloor : shop.zones[zone.zone].kind)));
  out.set_area_m2(zone.area_m2);
  out.set_before_g(sum(dust.before_g));
  out.set_shavings_g(dust.fallen_g[kShavings]);
  out.set_chips_g(dust.fallen_g[kChips]);
  out.set_coarse_g(dust.fallen_g[kCoarse]);
  out.set_fine_g(dust.fallen_g[kFine]);
  out.set_fallen_g(zone.fallen_g);
  out.set_weight(zone.weight);
  out.set_settling_g(dust.settling_g);
  if (zone.area_m2 <= 0) return;
  out.set_load_g_per_m2(zone.lying_g / zone.area_m2);
  PerClass limited = dust.lying_g();
  limited[kShavings] = limited[kChips] = 0;
  const double solid =
      dust.fallen_solid_m3 > 0 ? zone.fallen_g / 1000 / dust.fallen_solid_m3 : kUnknownStockKgPerM3;
  const double bulk = bulk_density_kg_per_m3(limited, solid);
  if (bulk <= 0) return;
  out.set_layer_mm(layer_mm(limited_g(limited) / zone.area_m2, bulk));
  out.set_limit_mm(layer_limit_mm(bulk));
}

void put_bin(const Shop& shop, const ShopState& state, const SessionDust& dust, Index index,
             proto::BinDust& out) {
  const Bin& bin = shop.bins[index];
  const BinFill fill = bin_fill(shop, state, dust, index);
  out.set_id(bin.id);
  out.set_name(bin.name);
  out.set_before_share(fill.before);
  out.set_after_share(fill.after);
  out.set_known(fill.known);
  out.set_caught_g(sum(dust.bins[index].caught_g));
  out.set_caught_l(1000 * dust.bins[index].caught_m3);
  out.set_mass_full_kg(mass_kg(shop, dust, index, 1));
  if (bin.lift) out.set_lifting_index(lifting_index(out.mass_full_kg(), *bin.lift));
}

void put_use(const Shop& shop, const Use& use, const UseDust& dust, proto::UseDust& out) {
  out.set_machine(shop.machines[use.machine].id);
  out.set_name(shop.machines[use.machine].name);
  out.set_stock(use.stock.name);
  out.set_minutes(use.minutes);
  out.set_from_minute(dust.running.from_minute);
  out.set_removed_g(sum(dust.removed_g));
  out.set_captured_g(sum(dust.captured_g));
  out.set_escaped_g(sum(dust.escaped_g));
  out.set_air_speed_m_per_s(dust.running.slowest_m_per_s);
  out.set_capture_factor(dust.capture_factor);
  out.set_clean_out_m(dust.clean_out_m);
  out.set_extraction(use.extraction && shop.machines[use.machine].collector != kNone);
}

/// Fine dust in the air from the session's beginning until it is cleared, or a day at most.
void put_air(const Shop& shop, const WindDown& list, proto::AirAnswer& out) {
  constexpr double kDay_minutes = 1440;
  const double mg_per_m3_per_g = 1000 / shop.air_m3();
  const AirRates during = rates_during(shop);
  const AirRates after = rates_after(shop);
  out.set_session_minutes(list.dust.end_minute);
  out.set_volume_m3(shop.air_m3());
  out.set_concentration_mg_per_m3(list.air.mg_per_m3);
  out.set_clearance_minutes(std::min(list.air.clearance_minutes, kDay_minutes));
  out.set_timer_minutes(list.air.timer_minutes);
  out.set_mask_minutes(std::min(list.air.mask_minutes, kDay_minutes));
  out.set_air_changes_per_h(3600 * (after.filters + after.exhaust));
  const double end = list.dust.end_minute;
  const double until = end + out.clearance_minutes();
  for (int i = 0; until > 0 && i < kCurvePoints; ++i) {
    const double minute = until * i / (kCurvePoints - 1);
    double grams = 0;
    if (minute <= end) {
      grams = airborne_g(list.dust.emissions, during, shop.ceiling_m, minute);
    } else {
      for (size_t s = 0; s < list.dust.air.airborne.size(); ++s) {
        const double rate = list.dust.air.settling_per_s[s] + after.filters + after.exhaust;
        grams += list.dust.air.airborne[s] * std::exp(-rate * 60 * (minute - end));
      }
    }
    out.add_curve_minutes(minute);
    out.add_curve_mg_per_m3(grams * mg_per_m3_per_g);
  }
}

void put_balance(const Balance& balance, proto::Balance& out) {
  out.set_removed(balance.removed);
  out.set_in_bins(balance.in_bins);
  out.set_on_zones(balance.on_zones);
  out.set_filtered(balance.filtered);
  out.set_vented(balance.vented);
  out.set_airborne(balance.airborne);
  out.set_difference(balance.difference());
}

}  // namespace

proto::WindDown answer(const Shop& shop, const ShopState& state, const Session& session,
                       const Evening& evening) {
  const WindDown& list = evening.list;
  proto::WindDown out;
  out.set_format(kAnswerFormat);
  out.set_shop(shop.name);
  out.set_session(session.name.empty() ? session.id : session.name);
  out.set_units(std::string(word(shop.policy.units)));
  out.set_people(static_cast<int>(evening.crew.people.size()));
  out.set_minutes_median(list.minutes_median);
  out.set_minutes_p80(list.minutes_p80);
  out.set_minimum_applied(list.minimum_applied);
  out.set_removed_grams(list.dust.balance.removed);
  put_finish(session.leave_at_minute, evening.finish, *out.mutable_finish());
  put_balance(list.dust.balance, *out.mutable_balance());
  for (const Duty& duty : list.duties) {
    proto::Duty& put = *out.add_duties();
    put_duty(shop, duty, put);
    put.set_order(out.duties_size());
  }
  for (Index done : evening.done) out.mutable_duties(done)->set_done(true);
  put_lanes(shop, evening, *out.mutable_lanes());
  put_tools_of_lanes(out);
  put_passed_on(evening, out);
  out.set_sharing(evening.sharing);
  for (const ZoneCase& zone : list.zones) {
    put_zone(shop, zone, zone.zone == kNone ? list.dust.open_floor : list.dust.zones[zone.zone],
             *out.add_zones());
  }
  for (size_t b = 0; b < shop.bins.size(); ++b) {
    put_bin(shop, state, list.dust, static_cast<Index>(b), *out.add_bins());
  }
  for (size_t u = 0; u < session.uses.size(); ++u) {
    put_use(shop, session.uses[u], list.dust.uses[u], *out.add_uses());
  }
  put_air(shop, list, *out.mutable_air());
  for (const std::string& caution : list.cautions) out.add_cautions(caution);
  for (const std::string& note : list.notes) out.add_notes(note);
  return out;
}

}  // namespace chipfall
