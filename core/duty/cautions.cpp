#include "core/duty/cautions.h"

#include <algorithm>

#include <fmt/format.h>

#include "core/dust/layer.h"
#include "core/duty/say.h"

namespace chipfall {
namespace {

/// Below this share of the usual capture a use is worth a word.
constexpr double kNotableFactor = 0.95;

double deep_area_m2(const SessionDust& dust, const std::vector<ZoneCase>& zones) {
  double deep = 0;
  for (const ZoneCase& zone : zones) {
    const ZoneDust& lying = zone.zone == kNone ? dust.open_floor : dust.zones[zone.zone];
    if (zone.area_m2 > 0 && limited_g(lying.lying_g()) / zone.area_m2 > layer_limit_g_per_m2()) {
      deep += zone.area_m2;
    }
  }
  return deep;
}

bool ends_in_wood_dust(const Shop& shop, Index collector) {
  return std::ranges::any_of(shop.machines, [&](const Machine& machine) {
    return machine.collector == collector && !machine.kind.metal;
  });
}

void add_once(const std::string& text, std::vector<std::string>& list) {
  if (std::ranges::find(list, text) == list.end()) list.push_back(text);
}

void add_layers(const Shop& shop, const SessionDust& dust, const std::vector<ZoneCase>& zones,
                std::vector<std::string>& cautions) {
  const double deep = deep_area_m2(dust, zones);
  if (deep <= hazard_area_m2(shop.floor_m2())) return;
  cautions.push_back(fmt::format(
      "{} lie deeper in dust than the housekeeping limit of {}. Dust burns and can explode: no "
      "sparks, no flames, no blowing off. Clean there first and tell the coordinator.",
      say_area(deep, shop.policy.units), say_load(layer_limit_g_per_m2(), shop.policy.units)));
}

void add_sparks(const Shop& shop, const Session& session, std::vector<std::string>& cautions) {
  for (const Use& use : session.uses) {
    const Machine& machine = shop.machines[use.machine];
    if (!machine.kind.sparks) continue;
    if (use.extraction && machine.collector != kNone &&
        ends_in_wood_dust(shop, machine.collector)) {
      add_once("Sparks from " + machine.name +
                   " went into extraction that holds wood dust. Switch it off, look and smell for "
                   "heat in its bins, and tell the coordinator before anyone leaves.",
               cautions);
    } else {
      add_once("Keep metal sparks out of wood dust and wood extraction; they can glow for an hour.",
               cautions);
    }
  }
}

void add_mask(const Session& session, const AirOutlook& air, std::vector<std::string>& cautions) {
  if (air.mask_minutes > 0) {
    cautions.push_back(fmt::format(
        "Mask on while cleaning, for the next {} at least: the air holds {:.2g} mg/m³ of wood "
        "dust, above the 1 mg/m³ that NIOSH recommends as a limit.",
        say_minutes(air.mask_minutes), air.mg_per_m3));
  } else if (std::ranges::any_of(session.uses,
                                 [](const Use& use) { return use.stock.mask_always; })) {
    cautions.push_back("Mask on while cleaning: this stock's dust is best not breathed at all.");
  }
}

}  // namespace

std::vector<std::string> cautions_for(const Shop& shop, const Session& session,
                                      const SessionDust& dust, const std::vector<ZoneCase>& zones,
                                      const AirOutlook& air) {
  std::vector<std::string> cautions;
  add_sparks(shop, session, cautions);
  add_layers(shop, dust, zones, cautions);
  add_mask(session, air, cautions);
  for (const Use& use : session.uses) {
    if (!use.stock.health.empty()) add_once(use.stock.name + ": " + use.stock.health, cautions);
  }
  cautions.push_back(
      "Vac before broom, broom before air: no compressed air on dust, and never on people (29 CFR "
      "1910.242(b)).");
  cautions.push_back(
      "Local rules, machine manuals and trained people come before this list. Unsure? Leave it and "
      "pass it on.");
  return cautions;
}

std::vector<std::string> notes_for(const Shop& shop, const ShopState& state, const Session& session,
                                   const SessionDust& dust) {
  std::vector<std::string> notes;
  for (size_t u = 0; u < session.uses.size(); ++u) {
    const UseDust& use = dust.uses[u];
    const Machine& machine = shop.machines[session.uses[u].machine];
    if (machine.gate != kNone && use.running.factor < kNotableFactor) {
      add_once(fmt::format("{} had only {} in its branch ({} carries chips): with fewer gates open "
                           "it would have caught more.",
                           machine.name, say_speed(use.running.slowest_m_per_s, shop.policy.units),
                           say_speed(kTransportSpeed_m_per_s, shop.policy.units)),
               notes);
    }
    if (use.running.factor > 0 && use.capture_factor < kNotableFactor * use.running.factor) {
      add_once(fmt::format("{}'s bin was so full that it drew at about {}.", machine.name,
                           say_percent(use.capture_factor / use.running.factor)),
               notes);
    }
  }
  for (const Use& use : session.uses) {
    if (!state.out_of_order[use.machine]) continue;
    add_once(fmt::format("{} is noted as out of order: tell the coordinator how it ran.",
                         shop.machines[use.machine].name),
             notes);
  }
  std::vector<std::string> unseen;
  for (size_t b = 0; b < shop.bins.size(); ++b) {
    if (dust.bins[b].caught_m3 > 0 && !state.bins[b].fill_share)
      unseen.push_back(shop.bins[b].name);
  }
  if (!unseen.empty()) {
    notes.push_back(
        fmt::format("Taken as half full, since nobody has noted otherwise: {}.", join(unseen)));
  }
  return notes;
}

}  // namespace chipfall
