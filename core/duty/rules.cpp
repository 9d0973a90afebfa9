#include "core/duty/rules.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/bins/lifting.h"
#include "core/dust/removal.h"
#include "core/duty/minutes.h"
#include "core/duty/say.h"

namespace chipfall {
namespace {

/// Resets that a rule knows by name: they apply only where there is a gate, or a table that is not
/// cleaned anyway.
constexpr std::string_view kWipeTable = "wipe-table";
constexpr std::string_view kCloseGate = "close-gate";

/// What every rule looks at.
struct Scene {
  const Shop& shop;
  const ShopState& state;
  const Session& session;
  const SessionDust& dust;
  const std::vector<ZoneCase>& cases;
};

/// A duty from its standard text, at a place; `about` tells several of one kind apart.
Duty from_standard(const Shop& shop, const StandardDuty& standard, DutyKind kind, Point at,
                   const std::string& about = "") {
  Duty duty;
  duty.id = about.empty() ? standard.id : standard.id + ":" + about;
  duty.kind = kind;
  duty.title = standard.title;
  duty.why = standard.why;
  duty.errand_minutes = walk_minutes(distance(shop.start, at));
  duty.minutes = standard.minutes + duty.errand_minutes;
  duty.spread = standard.spread;
  duty.weight = standard.weight;
  duty.caution = standard.caution;
  duty.phase = standard.phase;
  duty.safety = standard.safety;
  duty.at = at;
  if (standard.tool) {
    for (size_t t = 0; t < shop.tools.size(); ++t) {
      const bool fits = shop.tools[t].kind == *standard.tool;
      const bool nearer = duty.tool == kNone || distance(shop.tools[t].hangs_at, at) <
                                                    distance(shop.tools[duty.tool].hangs_at, at);
      if (fits && nearer) duty.tool = static_cast<Index>(t);
    }
  }
  return duty;
}

void fill_in_all(Duty& duty, const std::string& key, const std::string& value) {
  duty.title = fill_in(duty.title, key, value);
  duty.why = fill_in(duty.why, key, value);
  duty.caution = fill_in(duty.caution, key, value);
}

template <typename Raise>
void each_standard(const Shop& shop, When when, const Raise& raise) {
  for (const StandardDuty& standard : shop.duties) {
    if (standard.when == when) raise(standard);
  }
}

std::vector<Index> machines_used(const Session& session) {
  std::vector<Index> machines;
  for (const Use& use : session.uses) {
    if (std::ranges::find(machines, use.machine) == machines.end()) machines.push_back(use.machine);
  }
  return machines;
}

/// The machine's table is on the list already, so brushing it is not a step of its own.
bool table_is_raised(const Scene& scene, const Machine& machine) {
  return std::ranges::any_of(scene.cases, [&](const ZoneCase& zone) {
    return zone.raised && zone.zone != kNone && zone.zone == machine.zone;
  });
}

void add_step(const StandardDuty& step, Duty& duty) {
  duty.steps.push_back(step.title);
  duty.minutes += step.minutes;
  duty.weight += step.weight;
  duty.safety = duty.safety || step.safety;
  duty.spread = std::max(duty.spread, step.spread);
  add_sentences(step.caution, duty.caution);
  if (step.safety && step.phase == Phase::kSafe) duty.phase = Phase::kSafe;
}

/// The kind's resets that apply tonight: safe ones first, then in the order of the work.
std::vector<const StandardDuty*> reset_steps(const Scene& scene, const Machine& machine) {
  std::vector<const StandardDuty*> steps;
  for (const std::string& reset : machine.kind.resets) {
    const Index at = index_of(scene.shop.duties, reset);
    if (at == kNone) continue;
    const StandardDuty& step = scene.shop.duties[at];
    if (step.when != When::kMachineUsed) continue;
    if (step.id == kWipeTable && table_is_raised(scene, machine)) continue;
    if (step.id == kCloseGate && machine.gate == kNone) continue;
    steps.push_back(&step);
  }
  std::ranges::stable_sort(
      steps, {}, [](const StandardDuty* step) { return std::pair(!step->safety, step->phase); });
  return steps;
}

/// "Table saw: leave as found", with the kind's resets as steps of one visit.
void add_reset(const Scene& scene, Index index, std::vector<Duty>& duties) {
  const Machine& machine = scene.shop.machines[index];
  Duty duty;
  duty.id = "reset:" + machine.id;
  duty.kind = DutyKind::kReset;
  duty.machine = index;
  duty.at = machine.at;
  duty.place = machine.name;
  duty.title = machine.name + ": leave as found";
  double used_minutes = 0;
  for (const Use& use : scene.session.uses) {
    if (use.machine == index) used_minutes += use.minutes;
  }
  duty.why = fmt::format("Used for {} in this session", say_minutes(used_minutes));
  duty.phase = Phase::kMiddle;
  duty.errand_minutes = walk_minutes(distance(scene.shop.start, machine.at));
  duty.minutes = duty.errand_minutes;
  for (const StandardDuty* step : reset_steps(scene, machine)) add_step(*step, duty);
  if (duty.steps.empty()) return;
  fill_in_all(duty, "machine", machine.name);
  for (std::string& step : duty.steps) step = fill_in(step, "machine", "it");
  duties.push_back(std::move(duty));
}

void add_machine_duties(const Scene& scene, std::vector<Duty>& duties) {
  for (Index index : machines_used(scene.session)) {
    add_reset(scene, index, duties);
    const Machine& machine = scene.shop.machines[index];
    if (!machine.kind.sparks) continue;
    each_standard(scene.shop, When::kSpark, [&](const StandardDuty& standard) {
      Duty duty = from_standard(scene.shop, standard, DutyKind::kClose, machine.at, machine.id);
      duty.machine = index;
      duty.place = machine.name;
      fill_in_all(duty, "machine", machine.name);
      duties.push_back(std::move(duty));
    });
  }
}

bool sawn(const Shop& shop, const Session& session) {
  return std::ranges::any_of(session.uses, [&](const Use& use) {
    return shop.machines[use.machine].kind.cut.kind == Cut::Kind::kKerf &&
           use.stock.family != Family::kMetal;
  });
}

void add_occasional(const Scene& scene, When when, bool holds, std::vector<Duty>& duties) {
  if (!holds) return;
  each_standard(scene.shop, when, [&](const StandardDuty& standard) {
    duties.push_back(from_standard(scene.shop, standard, DutyKind::kClose, scene.shop.start));
  });
}

void say_lift(const Shop& shop, double mass_kg, const Bin& bin, Duty& duty) {
  if (!bin.lift) return;
  const double index = lifting_index(mass_kg, *bin.lift);
  const std::string mass = say_mass(1000 * mass_kg, shop.policy.units);
  std::string say = fmt::format("It weighs about {} now", mass);
  if (index > 1) {
    duty.people = shop.policy.people_per_heavy_bag;
    say += fmt::format(": {} people lift it", duty.people);
    if (index > duty.people) say += ", and some is scooped out first";
  }
  duty.caution = say + ". " + duty.caution;
}

/// A vac that is full now is emptied before anyone cleans with it; other bins wait for the floors.
bool blocks_a_vac(const Shop& shop, Index bin, const BinFill& fill) {
  if (!fill.known || fill.before < shop.bins[bin].empty_at) return false;
  return std::ranges::any_of(shop.tools, [&](const CleaningTool& tool) {
    if (tool.collector == kNone) return false;
    const std::vector<Index>& chain = shop.collectors[tool.collector].chain;
    return std::ranges::find(chain, bin) != chain.end();
  });
}

void add_bin(const Scene& scene, Index index, std::vector<Duty>& duties) {
  const Bin& bin = scene.shop.bins[index];
  const BinFill fill = bin_fill(scene.shop, scene.state, scene.dust, index);
  const bool empty = fill.known && fill.after >= bin.empty_at;
  const bool look = !fill.known && fill.after - fill.before >= kMuchCaught;
  if (!empty && !look) return;
  each_standard(
      scene.shop, empty ? When::kBinEmpty : When::kBinLook, [&](const StandardDuty& standard) {
        Duty duty = from_standard(scene.shop, standard, DutyKind::kBin, bin.at, bin.id);
        duty.bin = index;
        duty.place = bin.name;
        fill_in_all(duty, "bin", bin.name);
        if (empty) {
          duty.why =
              fmt::format("About {} full after this session; empty it at {}, before it chokes",
                          say_percent(fill.after), say_percent(bin.empty_at));
          const double contents_l = 1000 * bin.volume_m3 * std::min(1.0, fill.after);
          duty.minutes += kEmpty_minutes_per_l * contents_l;
          say_lift(scene.shop, mass_kg(scene.shop, scene.dust, index, std::min(1.0, fill.after)),
                   bin, duty);
          if (blocks_a_vac(scene.shop, index, fill)) duty.phase = Phase::kSafe;
        } else {
          duty.why =
              fmt::format("{} went in and nobody has noted how full it was",
                          say_volume(scene.dust.bins[index].caught_m3, scene.shop.policy.units));
        }
        duties.push_back(std::move(duty));
      });
}

void add_collector(const Scene& scene, Index index, std::vector<Duty>& duties) {
  const Collector& collector = scene.shop.collectors[index];
  const bool ran = std::ranges::any_of(scene.session.uses, [&](const Use& use) {
    return use.extraction && scene.shop.machines[use.machine].collector == index;
  });
  if (!ran || collector.chain.empty()) return;
  const Index filter = collector.chain.back();
  const Point at = scene.shop.bins[collector.chain.front()].at;
  const auto raise = [&](When when, DutyKind kind, const std::string& why) {
    each_standard(scene.shop, when, [&](const StandardDuty& standard) {
      Duty duty = from_standard(scene.shop, standard, kind, at, collector.id);
      duty.place = collector.name;
      fill_in_all(duty, "collector", collector.name);
      fill_in_all(duty, "minutes", fmt::format("{:.0f}", collector.run_on_minutes));
      if (!why.empty()) duty.why = why;
      if (when == When::kCollectorOff) {
        duty.collector = index;
        duty.not_before_minutes = collector.run_on_minutes;
      }
      duties.push_back(std::move(duty));
    });
  };
  if (collector.kind == CollectorKind::kCollector) {
    raise(When::kCollectorOff, DutyKind::kClose, "");
  }
  const double fine_g =
      scene.state.bins[filter].filter_fine_g + scene.dust.bins[filter].caught_fine_g;
  if (fine_g >= collector.filter_clean_g) {
    raise(When::kFilterClean, DutyKind::kFilter,
          fmt::format("{} of fine dust on it since it was cleaned; it asks for that at {}",
                      say_mass(fine_g, scene.shop.policy.units),
                      say_mass(collector.filter_clean_g, scene.shop.policy.units)));
  }
}

void add_timer(const Scene& scene, std::vector<Duty>& duties) {
  const AirOutlook air = air_outlook(scene.shop, scene.dust);
  if (air.timer_minutes <= 0) return;
  each_standard(scene.shop, When::kFilterTimer, [&](const StandardDuty& standard) {
    Duty duty = from_standard(scene.shop, standard, DutyKind::kAir, scene.shop.start);
    fill_in_all(duty, "minutes", fmt::format("{:.0f}", air.timer_minutes));
    duty.why =
        fmt::format("{:.2g} mg/m³ of fine dust hangs in the air; 99 % of it is gone after {}",
                    air.mg_per_m3, say_minutes(air.clearance_minutes));
    duties.push_back(std::move(duty));
  });
}

/// Where most fine dust lies, per area, among zones that are not on the list anyway; among all when
/// the list has every one, so that a dustier evening never owes less. Never among metal grit.
const ZoneCase* dustiest(const Scene& scene) {
  const ZoneCase* best = nullptr;
  double most = 0;
  for (bool raised : {false, true}) {
    for (const ZoneCase& zone : scene.cases) {
      if (zone.raised != raised || zone.zone == kNone) continue;
      if (metal_on(scene.shop, scene.dust, zone.zone)) continue;
      const double load = scene.dust.zones[zone.zone].lying_g()[kFine] / zone.area_m2;
      if (load > most) {
        most = load;
        best = &zone;
      }
    }
    if (best != nullptr) return best;
  }
  return best;
}

void add_common(const Scene& scene, std::vector<Duty>& duties) {
  double fine_g = 0;
  for (const UseDust& use : scene.dust.uses) fine_g += use.escaped_g[kFine];
  const ZoneCase* zone = dustiest(scene);
  if (fine_g < kLeastCommonFine_g || zone == nullptr) return;
  each_standard(scene.shop, When::kCommonDust, [&](const StandardDuty& standard) {
    const Zone& place = scene.shop.zones[zone->zone];
    Duty duty =
        from_standard(scene.shop, standard, DutyKind::kCommon, place_of(scene.shop, zone->zone));
    duty.zone = zone->zone;
    duty.place = place.name;
    duty.tool =
        tool_for(scene.shop, place.surface, duty.at, metal_on(scene.shop, scene.dust, zone->zone));
    duty.minutes = std::clamp(kLeastCommon_minutes + fine_g / kCommonFine_g_per_min,
                              kLeastCommon_minutes, kMostCommon_minutes);
    duty.grams = fine_g;
    if (place.kind != ZoneKind::kLedge) duty.phase = Phase::kMiddle;
    if (place.kind == ZoneKind::kFloor) duty.phase = Phase::kFloor;
    fill_in_all(duty, "zone", place.name);
    fill_in_all(duty, "minutes", fmt::format("{:.0f}", std::ceil(duty.minutes)));
    duty.why = fmt::format(
        "This session let go {} of fine dust that settles everywhere; most "
        "of the shop's lies here",
        say_mass(fine_g, scene.shop.policy.units));
    duties.push_back(std::move(duty));
  });
}

}  // namespace

AirOutlook air_outlook(const Shop& shop, const SessionDust& dust) {
  AirOutlook out;
  const double up_g = dust.air.airborne_g();
  const AirRates rates = rates_after(shop);
  out.mg_per_m3 = 1000 * up_g / shop.air_m3();
  out.clearance_minutes = clearance_minutes(dust.air, rates, kClearanceShare);
  out.mask_minutes = minutes_until_g(dust.air, rates, kMaskAbove_mg_per_m3 / 1000 * shop.air_m3());
  if (out.mg_per_m3 < kTimerAbove_mg_per_m3) return out;
  // One timer setting for all filters: the shortest step that is long enough on every one, or the
  // longest there is.
  for (const AirFilter& filter : shop.filters) {
    double step = 0;
    for (double offered : filter.timer_steps_minutes) {
      if (step < out.clearance_minutes) step = std::max(step, offered);
    }
    out.timer_minutes = std::max(out.timer_minutes, step);
  }
  return out;
}

BinFill bin_fill(const Shop& shop, const ShopState& state, const SessionDust& dust, Index bin) {
  BinFill fill;
  fill.known = state.bins[bin].fill_share.has_value();
  fill.before = state.bins[bin].fill_share.value_or(kUnseenFill);
  fill.after = fill.before + dust.bins[bin].caught_m3 / shop.bins[bin].volume_m3;
  return fill;
}

double mass_kg(const Shop& shop, const SessionDust& dust, Index bin, double fill_share) {
  const BinDust& caught = dust.bins[bin];
  const double bulk = caught.caught_m3 > 0 ? sum(caught.caught_g) / 1000 / caught.caught_m3
                                           : kUnknownStockKgPerM3 / kExpansion[kCoarse];
  return shop.bins[bin].tare_kg + bulk * fill_share * shop.bins[bin].volume_m3;
}

std::vector<Duty> standing_duties(const Shop& shop, const ShopState& state, const Session& session,
                                  const SessionDust& dust, const std::vector<ZoneCase>& cases) {
  const Scene scene{shop, state, session, dust, cases};
  std::vector<Duty> duties;
  add_machine_duties(scene, duties);
  add_occasional(scene, When::kOilyRags, session.oily_rags, duties);
  add_occasional(scene, When::kGlue, session.glue, duties);
  add_occasional(scene, When::kScraps, sawn(shop, session), duties);
  add_occasional(scene, When::kAlways, true, duties);
  for (size_t b = 0; b < shop.bins.size(); ++b) add_bin(scene, static_cast<Index>(b), duties);
  for (size_t c = 0; c < shop.collectors.size(); ++c) {
    add_collector(scene, static_cast<Index>(c), duties);
  }
  add_timer(scene, duties);
  add_common(scene, duties);
  return duties;
}

}  // namespace chipfall
