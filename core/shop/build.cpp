#include "core/shop/build.h"

#include <numbers>

#include "core/shop/check_session.h"
#include "core/shop/defaults.h"
#include "core/shop/mistakes.h"
#include "core/shop/words.h"

namespace chipfall {
namespace {

constexpr double kRadPerDegree = std::numbers::pi / 180;
constexpr double kMetresPerMm = 1e-3;
constexpr double kCubicMetresPerLitre = 1e-3;
constexpr double kSecondsPerHour = 3600;

Point point(const proto::Place& place) { return {place.x_m(), place.y_m()}; }

template <typename Entry>
std::optional<Point> place_if_any(const Entry& entry) {
  return entry.has_at() ? std::optional(point(entry.at())) : std::nullopt;
}

Policy build_policy(const proto::Policy& policy) {
  Policy out;
  if (policy.has_minimum_minutes()) out.minimum_minutes = policy.minimum_minutes();
  if (policy.has_fine_factor()) out.fine_factor = policy.fine_factor();
  out.units = parse<Units>(policy.units()).value_or(out.units);
  if (policy.has_default_capture()) out.default_capture = policy.default_capture();
  if (policy.has_clean_g_per_m2()) out.clean_g_per_m2 = policy.clean_g_per_m2();
  if (policy.has_people_per_heavy_bag()) out.people_per_heavy_bag = policy.people_per_heavy_bag();
  return out;
}

Zone build_zone(const proto::Zone& zone, const Policy& policy) {
  Zone out;
  out.id = zone.id();
  out.name = name_of(zone);
  out.kind = parse<ZoneKind>(zone.kind()).value_or(out.kind);
  out.surface = parse<Surface>(zone.surface()).value_or(out.surface);
  out.clutter = parse<Clutter>(zone.clutter()).value_or(out.clutter);
  out.corners = corners_of(zone);
  out.height_m = height_m_of(zone, out.kind);
  if (zone.has_cover()) out.cover = zone.cover();
  out.clean_g_per_m2 = zone.has_clean_g_per_m2() ? zone.clean_g_per_m2() : policy.clean_g_per_m2;
  return out;
}

Collector build_collector(const proto::Collector& collector, const std::vector<Bin>& bins) {
  Collector out;
  out.id = collector.id();
  out.name = name_of(collector);
  out.kind = parse<CollectorKind>(collector.kind()).value_or(out.kind);
  out.flow_m3_per_s = collector.flow_m3_per_h() / kSecondsPerHour;
  for (Index bin = index_of(bins, collector.first_bin()); bin != kNone; bin = bins[bin].then) {
    out.chain.push_back(bin);
  }
  out.outdoors = collector.outdoors();
  if (collector.has_run_on_minutes()) out.run_on_minutes = collector.run_on_minutes();
  if (collector.has_filter_clean_g()) out.filter_clean_g = collector.filter_clean_g();
  out.at = place_if_any(collector);
  return out;
}

Gate build_gate(const proto::Gate& gate, const std::vector<Collector>& collectors) {
  return {gate.id(),
          name_of(gate),
          index_of(collectors, gate.collector()),
          gate.branch_mm() * kMetresPerMm,
          gate.floor_inlet(),
          place_if_any(gate)};
}

Lift build_lift(const proto::Lift& lift) {
  return {lift.hands_from_ankles_cm(), lift.hands_start_cm(), lift.hands_end_cm(), lift.twist_deg(),
          parse<Grip>(lift.grip()).value_or(Grip::kFair)};
}

std::vector<Bin> build_bins(const proto::ShopSheet& sheet) {
  std::vector<Bin> bins;
  for (const proto::Bin& bin : sheet.bins()) {
    Bin& out = bins.emplace_back();
    out.id = bin.id();
    out.name = name_of(bin);
    out.kind = parse<BinKind>(bin.kind()).value_or(out.kind);
    out.volume_m3 = bin.volume_l() * kCubicMetresPerLitre;
    out.at = point(bin.at());
    out.keeps = keeps_of(bin, out.kind);
    if (bin.has_empty_at()) out.empty_at = bin.empty_at();
    out.tare_kg = bin.tare_kg();
    if (bin.has_lift()) out.lift = build_lift(bin.lift());
    for (int s = 0; s < sheet.supplies_size() && !bin.bag().empty(); ++s) {
      if (sheet.supplies(s).id() == bin.bag()) out.bag = s;
    }
  }
  for (size_t i = 0; i < bins.size(); ++i) {
    bins[i].then = index_of(bins, sheet.bins(static_cast<int>(i)).then());
  }
  return bins;
}

void build_air(const proto::Air& air, Shop& shop) {
  shop.exhaust_m3_per_s = air.exhaust_m3_per_h() / kSecondsPerHour;
  for (const proto::AirFilter& filter : air.filters()) {
    AirFilter& out = shop.filters.emplace_back();
    out.id = filter.id();
    out.name = name_of(filter);
    out.clean_air_m3_per_s = filter.flow_m3_per_h() * filter.efficiency() / kSecondsPerHour;
    out.timer_steps_minutes.assign(filter.timer_steps_minutes().begin(),
                                   filter.timer_steps_minutes().end());
    out.on_during_sessions = filter.on_during_sessions();
    out.at = place_if_any(filter);
  }
}

/// The shop's own kind of that name, else the library's.
MachineKind kind_of(const proto::Machine& machine, const proto::ShopSheet& sheet,
                    const Library& library) {
  for (const proto::MachineKind& kind : sheet.machine_kinds()) {
    if (kind.id() == machine.kind()) return build_machine_kind(kind);
  }
  const MachineKind* kind = library.machine_kind(machine.kind());
  return kind == nullptr ? MachineKind{} : *kind;
}

Machine build_machine(const proto::Machine& machine, const proto::ShopSheet& sheet,
                      const Library& library, const Shop& shop) {
  Machine out;
  out.id = machine.id();
  out.name = name_of(machine);
  out.kind = kind_of(machine, sheet, library);
  if (machine.has_cut()) out.kind.cut = build_cut(machine.cut());
  out.at = point(machine.at());
  out.heading_rad = machine.heading_deg() * kRadPerDegree;
  out.gate = index_of(shop.gates, machine.gate());
  out.collector = out.gate == kNone ? index_of(shop.collectors, machine.collector())
                                    : shop.gates[out.gate].collector;
  out.zone = index_of(shop.zones, machine.zone());
  if (out.collector == kNone) return out;  // nothing captures
  const auto own = per_class(machine.capture());
  for (ChipClass c : kAllClasses) {
    out.capture[c] = own[c].value_or(out.kind.capture[c].value_or(shop.policy.default_capture));
  }
  return out;
}

CleaningTool build_tool(const proto::CleaningTool& tool, const Shop& shop) {
  return {tool.id(), name_of(tool), parse<ToolKind>(tool.kind()).value_or(ToolKind::kVac),
          point(tool.hangs_at()), index_of(shop.collectors, tool.collector())};
}

void build_library_parts(const proto::ShopSheet& sheet, const Library& library, Shop& shop) {
  shop.duties = library.duties;
  for (const proto::StandardDuty& duty : sheet.duties()) shop.duties.push_back(build_duty(duty));
  for (const proto::Stock& stock : sheet.stocks()) shop.stocks.push_back(build_stock(stock));
  shop.stocks.insert(shop.stocks.end(), library.stocks.begin(), library.stocks.end());
  shop.methods = library.methods;
}

Use build_use(const proto::Use& use, const Shop& shop) {
  Use out;
  out.machine = index_of(shop.machines, use.machine());
  out.minutes = use.minutes();
  if (const Stock* stock = shop.stock(use.stock())) out.stock = *stock;
  if (use.has_moisture_percent()) out.stock.moisture_percent = use.moisture_percent();
  const bool any = out.machine != kNone && shop.machines[out.machine].collector != kNone;
  out.extraction = use.has_extraction() ? use.extraction() : any;
  if (use.has_from_minute()) out.from_minute = use.from_minute();
  return out;
}

}  // namespace

Shop build_shop(const proto::ShopSheet& sheet, const Library& library) {
  Shop shop;
  shop.name = sheet.name();
  shop.time_zone = sheet.time_zone();
  shop.outline = corners_of(sheet.room().corners_m());
  shop.ceiling_m = sheet.room().ceiling_m();
  shop.policy = build_policy(sheet.policy());
  shop.start = point(sheet.sink_in());
  for (const proto::Zone& zone : sheet.zones()) {
    shop.zones.push_back(build_zone(zone, shop.policy));
  }
  // In the order in which they name each other: bins, collectors, gates, machines and tools.
  shop.bins = build_bins(sheet);
  for (const proto::Supply& supply : sheet.supplies()) {
    shop.supplies.push_back({supply.id(), name_of(supply),
                             supply.unit().empty() ? "pieces" : supply.unit(), supply.low_at()});
  }
  for (const proto::Collector& collector : sheet.collectors()) {
    shop.collectors.push_back(build_collector(collector, shop.bins));
  }
  for (const proto::Gate& gate : sheet.gates()) {
    shop.gates.push_back(build_gate(gate, shop.collectors));
  }
  for (const proto::Machine& machine : sheet.machines()) {
    shop.machines.push_back(build_machine(machine, sheet, library, shop));
  }
  for (const proto::CleaningTool& tool : sheet.tools()) {
    shop.tools.push_back(build_tool(tool, shop));
  }
  build_air(sheet.air(), shop);
  for (const proto::Station& station : sheet.stations()) {
    shop.stations.push_back({station.id(), name_of(station),
                             parse<PlaceKind>(station.kind()).value_or(PlaceKind::kDoor),
                             point(station.at())});
  }
  build_library_parts(sheet, library, shop);
  return shop;
}

Session build_session(const proto::Session& session, const Shop& shop) {
  Session out;
  out.id = session.id();
  out.name = name_of(session);
  if (session.people() > 0) out.people = session.people();
  out.minutes = session.minutes();
  out.leave_at_minute = minute_of_day(session.leave_at());
  for (const proto::Use& use : session.uses()) out.uses.push_back(build_use(use, shop));
  for (const std::string& gate : session.gates_left_open()) {
    out.gates_left_open.push_back(index_of(shop.gates, gate));
  }
  out.oily_rags = session.oily_rags();
  out.glue = session.glue();
  return out;
}

ShopState clean_state(const Shop& shop) {
  ShopState state;
  state.bins.resize(shop.bins.size());
  state.zones.resize(shop.zones.size());
  state.out_of_order.resize(shop.machines.size());
  return state;
}

ShopState build_state(const proto::ShopState& state, const Shop& shop) {
  ShopState out = clean_state(shop);
  for (const proto::BinState& bin : state.bins()) {
    BinState& seen = out.bins[index_of(shop.bins, bin.bin())];
    if (bin.has_fill_share()) seen.fill_share = bin.fill_share();
    seen.filter_fine_g = bin.filter_fine_g();
  }
  for (const proto::ZoneState& zone : state.zones()) {
    PerClass& grams =
        zone.zone().empty() ? out.open_floor : out.zones[index_of(shop.zones, zone.zone())];
    grams = {zone.shavings_g(), zone.chips_g(), zone.coarse_g(), zone.fine_g()};
  }
  for (const std::string& machine : state.out_of_order()) {
    out.out_of_order[index_of(shop.machines, machine)] = true;
  }
  for (const proto::FinishedDuty& finished : state.finished()) {
    out.finished.push_back({*parse<DutyKind>(finished.kind()), finished.estimated_minutes(),
                            finished.actual_minutes()});
  }
  return out;
}

}  // namespace chipfall
