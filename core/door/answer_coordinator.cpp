#include "core/door/answer_coordinator.h"

#include <cmath>

#include "core/dust/layer.h"
#include "core/shop/words.h"

namespace chipfall {
namespace {

constexpr int kAnswerFormat = 1;

template <typename Message>
void put_head(const Shop& shop, Message& out) {
  out.set_format(kAnswerFormat);
  out.set_shop(shop.name);
  out.set_units(std::string(word(shop.policy.units)));
}

std::string zone_id(const Shop& shop, Index zone) {
  return zone == kNone ? std::string() : shop.zones[zone].id;
}

std::string zone_name(const Shop& shop, Index zone) {
  return zone == kNone ? std::string("Open floor") : shop.zones[zone].name;
}

void put_end(const LiftMultipliers& at, double hands_cm, proto::LiftEnd& out) {
  out.set_hands_cm(hands_cm);
  out.set_horizontal(at.horizontal);
  out.set_vertical(at.vertical);
  out.set_distance(at.distance);
  out.set_asymmetry(at.asymmetry);
  out.set_frequency(at.frequency);
  out.set_coupling(at.coupling);
  out.set_product(at.product());
}

/// What a shell can show: JSON has no infinity, and nothing is a thousand times too heavy.
double finite_index(double index) {
  constexpr double kMostIndex = 1000;
  return std::isfinite(index) ? std::min(index, kMostIndex) : kMostIndex;
}

std::optional<double> left_of(const CoordinatorView& view, Index supply) {
  for (const SupplyStock& stock : view.supplies) {
    if (stock.supply == supply) return stock.left;
  }
  return std::nullopt;
}

void put_outlook(const Shop& shop, const CoordinatorView& view, const BinOutlook& outlook,
                 proto::BinOutlook& out) {
  const Bin& bin = shop.bins[outlook.bin];
  out.set_id(bin.id);
  out.set_name(bin.name);
  out.set_kind(std::string(word(bin.kind)));
  out.set_known(outlook.known);
  out.set_look_first(outlook.look_first);
  out.set_expected_fill_share(outlook.expected_fill);
  out.set_chance_full(outlook.chance_full);
  out.set_chance_to_empty(outlook.chance_to_empty);
  out.set_empty_at_share(bin.empty_at);
  out.set_rate_factor(outlook.rate);
  if (outlook.full.days_to_half_chance) {
    out.set_days_to_half_chance(*outlook.full.days_to_half_chance);
  }
  if (outlook.full.days_to_nine_in_ten) {
    out.set_days_to_nine_in_ten(*outlook.full.days_to_nine_in_ten);
  }
  if (outlook.due.days_to_half_chance) out.set_days_to_due(*outlook.due.days_to_half_chance);
  out.set_evidence(outlook.evidence);
  for (const std::string& doubt : outlook.doubts) out.add_doubts(doubt);
  out.set_forecast(say_forecast(outlook, view.now_day));
  out.set_volume_l(1000 * bin.volume_m3);
  out.set_since_emptied_l(1000 * outlook.since_emptied_m3);
  out.set_emptied_once(outlook.emptied_once);
  out.set_full_kg(outlook.full_kg);
  if (outlook.lift) {
    proto::LiftAnswer& lift = *out.mutable_lift();
    lift.set_load_constant_kg(kLoadConstant_kg);
    put_end(outlook.lift->start, bin.lift->hands_start_cm, *lift.mutable_start());
    put_end(outlook.lift->end, bin.lift->hands_end_cm, *lift.mutable_end());
    lift.set_limit_kg(outlook.lift->limit_kg);
    lift.set_index(finite_index(outlook.lift->index));
  }
  out.set_people(outlook.people);
  if (outlook.doubts.empty()) out.set_pace(say_pace(outlook));
  for (double chance : fill_chances(outlook.belief)) out.add_fill_chances(chance);
  if (bin.bag == kNone) return;
  out.set_bag(shop.supplies[bin.bag].name);
  if (const auto left = left_of(view, bin.bag)) out.set_bags_left(*left);
}

void put_stop(const Shop& shop, const RoundStop& stop, proto::RoundStop& out) {
  const Bin& bin = shop.bins[stop.bin];
  out.set_bin(bin.id);
  out.set_name(bin.name);
  out.set_why(stop.why);
  out.set_minutes(stop.minutes);
  out.set_people(stop.people);
  out.set_litres(stop.litres);
  out.set_kg(stop.kg);
  out.set_x_m(bin.at.x);
  out.set_y_m(bin.at.y);
  if (bin.bag != kNone) out.set_bag(shop.supplies[bin.bag].name);
  if (stop.lifting_index) out.set_lifting_index(finite_index(*stop.lifting_index));
  for (const std::string& caution : stop.cautions) out.add_cautions(caution);
}

const BinOutlook* outlook_of(const CoordinatorView& view, Index bin) {
  for (const BinOutlook& outlook : view.bins) {
    if (outlook.bin == bin) return &outlook;
  }
  return nullptr;
}

std::string why_look(const CoordinatorView& view, Index bin) {
  const BinOutlook* outlook = outlook_of(view, bin);
  if (outlook == nullptr || !outlook->known) return "nobody has looked into it yet";
  return outlook->evidence +
         "; more should have fallen since than it holds, so somebody may have emptied it";
}

void put_machine(const Shop& shop, const MachineOut& notice, double now_day,
                 proto::MachineOutNotice& out) {
  out.set_machine(shop.machines[notice.machine].id);
  out.set_name(shop.machines[notice.machine].name);
  out.set_reason(notice.reason);
  out.set_since(say_on_day(notice.day, now_day));
  out.set_back_unseen(notice.back_unseen);
  for (const std::string& step : first_things_to_try(shop, notice.machine)) out.add_try_first(step);
}

void put_supply(const Shop& shop, const SupplyStock& stock, proto::SupplyNotice& out) {
  const Supply& supply = shop.supplies[stock.supply];
  out.set_supply(supply.id);
  out.set_name(supply.name);
  out.set_unit(supply.unit);
  if (stock.left) out.set_left(*stock.left);
  out.set_low_at(supply.low_at);
  out.set_low(stock.low);
  out.set_text(stock.text);
}

void put_layer(const Shop& shop, const LayerNotice& layer, proto::LayerNotice& out) {
  out.set_zone(zone_id(shop, layer.zone));
  out.set_name(zone_name(shop, layer.zone));
  out.set_share_of_limit(layer.share_of_limit);
  out.set_load_g_per_m2(layer.load_g_per_m2);
  out.set_limit_g_per_m2(layer_limit_g_per_m2());
  if (layer.days_to_limit) out.set_days_to_limit(*layer.days_to_limit);
  out.set_text(layer.text);
}

}  // namespace

proto::Bins bins_answer(const Shop& shop, const CoordinatorView& view) {
  proto::Bins out;
  put_head(shop, out);
  for (const BinOutlook& outlook : in_order_of_need(view.bins)) {
    put_outlook(shop, view, outlook, *out.add_bins());
  }
  for (const std::string& note : view.bin_notes) out.add_notes(note);
  out.set_as_of(say_date(view.now_day));
  return out;
}

proto::Round round_answer(const Shop& shop, const CoordinatorView& view) {
  const Round& round = view.round;
  proto::Round out;
  put_head(shop, out);
  for (const RoundStop& stop : round.stops) put_stop(shop, stop, *out.add_stops());
  for (Index bin : round.looks) {
    proto::RoundLook& look = *out.add_looks();
    look.set_bin(shop.bins[bin].id);
    look.set_name(shop.bins[bin].name);
    look.set_why(why_look(view, bin));
  }
  for (const RoundBags& bags : round.bags) {
    proto::BagsToCarry& carry = *out.add_bags();
    carry.set_supply(shop.supplies[bags.supply].id);
    carry.set_name(shop.supplies[bags.supply].name);
    carry.set_count(bags.count);
    if (bags.left) carry.set_left(*bags.left);
  }
  out.set_minutes(round.minutes);
  out.set_walk_minutes(round.walk_minutes);
  out.set_walk_lower_bound_minutes(round.walk_lower_bound_minutes);
  out.set_shortest(round.proven);
  out.set_people(round.people);
  for (const std::string& caution : round.cautions) out.add_cautions(caution);
  if (view.next_round_days) {
    out.set_until(say_on_day(view.now_day + *view.next_round_days, view.now_day));
  }
  return out;
}

proto::Coordinator coordinator_answer(const Shop& shop, const CoordinatorView& view) {
  proto::Coordinator out;
  put_head(shop, out);
  *out.mutable_bins() = bins_answer(shop, view);
  *out.mutable_round() = round_answer(shop, view);
  for (const MachineOut& notice : view.machines_out) {
    put_machine(shop, notice, view.now_day, *out.add_machines_out());
  }
  for (const SupplyStock& stock : view.supplies) put_supply(shop, stock, *out.add_supplies());
  for (const LayerNotice& layer : view.layers) put_layer(shop, layer, *out.add_layers());
  for (const EstimatesHeld& week : view.estimates) {
    proto::EstimatesHeld& put = *out.add_estimates();
    put.set_week(say_date(week.monday));
    put.set_kind(std::string(word(week.kind)));
    put.set_duties(week.duties);
    put.set_promised_minutes(week.promised_minutes);
    put.set_taken_minutes(week.taken_minutes);
    put.set_text(week.text);
  }
  for (const FallenBehind& zone : view.behind) {
    proto::FallenBehind& put = *out.add_behind();
    put.set_zone(zone_id(shop, zone.zone));
    put.set_name(zone_name(shop, zone.zone));
    put.set_passed_on(zone.passed_on);
    put.set_listed(zone.listed);
    put.set_text(zone.text);
  }
  return out;
}

}  // namespace chipfall
