#include "core/duty/zones.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/dust/layer.h"
#include "core/dust/removal.h"
#include "core/duty/minutes.h"
#include "core/duty/say.h"

namespace chipfall {
namespace {

/// A ring that only grazes a zone still means cleaning about a square metre of it.
constexpr double kLeastPart_m2 = 1;
/// A zone that caught less than this is not worth a walk [c.p.].
constexpr double kLeastFallen_g = 2;
/// Grit that would glow or scratch in a vac shows from about here [c.p.].
constexpr double kLeastMetal_g = 0.2;
/// Above this much loose stuff a heap is swept together before the vac comes [c.p.].
constexpr double kHeap_l = 15;

/// The rings of all machines used.
std::vector<Polygon> rings_of(const SessionDust& dust) {
  std::vector<Polygon> rings;
  for (const MachineDust& entry : dust.machines) {
    rings.insert(rings.end(), entry.ring.begin(), entry.ring.end());
  }
  return rings;
}

/// Area of a zone (or of the open floor) that the rings cover.
double ring_area_m2(const Shop& shop, const Overlay& overlay, const std::vector<Polygon>& rings,
                    Index zone) {
  return covered_area_m2(zone == kNone ? overlay.open_floor : Region{shop.zones[zone].corners},
                         rings);
}

bool cleaned_whole(const Shop& shop, Index zone) {
  return zone != kNone && shop.zones[zone].kind != ZoneKind::kFloor;
}

/// The part to clean: all of a bench, the ring's part of a floor, all of a floor without rings.
double part_m2(const Shop& shop, const ZoneCase& zone, double ring_m2) {
  if (cleaned_whole(shop, zone.zone) || ring_m2 <= 0) return zone.area_m2;
  return std::clamp(ring_m2, std::min(kLeastPart_m2, zone.area_m2), zone.area_m2);
}

const ZoneDust& dust_on(const SessionDust& dust, Index zone) {
  return zone == kNone ? dust.open_floor : dust.zones[zone];
}

double thrown_here_g(const MachineDust& entry, Index zone) {
  return zone == kNone ? entry.open_floor_g : entry.zones_g[zone];
}

/// Machine by machine, so that a second machine's wide ring never thins a first one's out.
bool one_machine_soils(const Shop& shop, const Overlay& overlay, const SessionDust& dust,
                       const ZoneCase& zone) {
  for (const MachineDust& entry : dust.machines) {
    const double grams = thrown_here_g(entry, zone.zone);
    if (grams < kLeastFallen_g) continue;
    const double ring_m2 = ring_area_m2(shop, overlay, entry.ring, zone.zone);
    const double part = part_m2(shop, zone, ring_m2);
    if (grams / part > zone.target_g_per_m2) return true;
  }
  return false;
}

double weighted(const PerClass& grams, const Policy& policy) {
  return sum(grams) + (policy.fine_factor - 1) * grams[kFine];
}

ZoneCase measure(const Shop& shop, const Overlay& overlay, const SessionDust& dust,
                 const std::vector<Polygon>& rings, Index zone, double area_m2) {
  ZoneCase out;
  out.zone = zone;
  out.area_m2 = area_m2;
  out.target_g_per_m2 =
      zone == kNone ? shop.policy.clean_g_per_m2 : shop.zones[zone].clean_g_per_m2;
  const ZoneDust& lying = dust_on(dust, zone);
  out.fallen_g = sum(lying.fallen_g);
  out.lying_g = sum(lying.lying_g());
  if (area_m2 <= 0) return out;
  out.ring_m2 = ring_area_m2(shop, overlay, rings, zone);
  out.load_g_per_m2 =
      out.fallen_g / part_m2(shop, out, out.ring_m2) + sum(lying.before_g) / area_m2;
  out.near_limit =
      limited_g(lying.lying_g()) / area_m2 > kWatchedShareOfLimit * layer_limit_g_per_m2();
  const bool soiled =
      out.fallen_g >= kLeastFallen_g &&
      (out.fallen_g / area_m2 > out.target_g_per_m2 || one_machine_soils(shop, overlay, dust, out));
  out.raised = soiled || out.near_limit;
  return out;
}

double loose_l(const SessionDust& dust, const ZoneCase& zone) {
  const ZoneDust& lying = dust_on(dust, zone.zone);
  const double fallen_g = sum(lying.fallen_g);
  const double solid =
      fallen_g > 0 ? fallen_g / 1000 / lying.fallen_solid_m3 : kUnknownStockKgPerM3;
  return 1000 * (loose_volume_m3(lying.fallen_g, solid) +
                 loose_volume_m3(lying.before_g, kUnknownStockKgPerM3));
}

std::string culprits(const Shop& shop, const SessionDust& dust, const ZoneCase& zone) {
  std::vector<const MachineDust*> by_grams;
  for (const MachineDust& entry : dust.machines) by_grams.push_back(&entry);
  std::ranges::stable_sort(by_grams, [&](const MachineDust* a, const MachineDust* b) {
    return thrown_here_g(*a, zone.zone) > thrown_here_g(*b, zone.zone);
  });
  std::vector<std::string> names;
  for (const MachineDust* entry : by_grams) {
    if (names.size() < 2 && thrown_here_g(*entry, zone.zone) > 0.2 * zone.fallen_g) {
      names.push_back(shop.machines[entry->machine].name);
    }
  }
  return join(names);
}

std::string reason(const Shop& shop, const SessionDust& dust, const ZoneCase& zone) {
  const Units units = shop.policy.units;
  std::string why = say_mass(zone.fallen_g, units) + " fell here";
  const std::string from = culprits(shop, dust, zone);
  if (!from.empty()) why += " from " + from;
  const double carried_g = zone.lying_g - zone.fallen_g;
  if (carried_g >= 1) why += fmt::format(", {} lay here before", say_mass(carried_g, units));
  why += fmt::format("; {}, clean is {}", say_load(zone.load_g_per_m2, units),
                     say_load(zone.target_g_per_m2, units));
  if (zone.near_limit) {
    why += fmt::format(". The layer nears the housekeeping limit of {}",
                       say_load(layer_limit_g_per_m2(), units));
  }
  return why;
}

std::string title_of(const Shop& shop, const ZoneCase& zone, Index tool, double litres) {
  const std::string verb = tool == kNone                               ? "Clean"
                           : shop.tools[tool].kind == ToolKind::kVac   ? "Vac"
                           : shop.tools[tool].kind == ToolKind::kBroom ? "Sweep"
                           : shop.tools[tool].kind == ToolKind::kBrush ? "Brush off"
                                                                       : "Wipe";
  std::string title = fmt::format("{}: {}", name_of(shop, zone.zone), verb);
  if (litres > kHeap_l) {
    title = fmt::format("{}: gather the heap ({}), then {}", name_of(shop, zone.zone),
                        say_volume(litres / 1000, shop.policy.units),
                        tool != kNone && shop.tools[tool].kind == ToolKind::kVac ? "vac" : "sweep");
  }
  return title;
}

Duty zone_duty(const Shop& shop, const SessionDust& dust, const ZoneCase& zone) {
  const double litres = loose_l(dust, zone);
  Duty duty;
  duty.id = "zone:" + (zone.zone == kNone ? "open-floor" : shop.zones[zone.zone].id);
  duty.kind = DutyKind::kZone;
  duty.zone = zone.zone;
  duty.at = place_of(shop, zone.zone);
  duty.place = name_of(shop, zone.zone);
  const bool metal = metal_on(shop, dust, zone.zone);
  duty.tool = tool_for(shop, surface_of(shop, zone.zone), duty.at, metal);
  duty.title = title_of(shop, zone, duty.tool, litres);
  duty.why = reason(shop, dust, zone);
  duty.spread = kZoneSpread;
  duty.weight = zone.weight;
  duty.phase = zone_phase(shop, zone.zone);
  duty.caution = zone_caution(shop, zone.zone, metal);
  duty.grams = zone.lying_g;
  duty.area_m2 = part_m2(shop, zone, zone.ring_m2);

  ZoneWork work;
  work.area_m2 = duty.area_m2;
  work.load_g_per_m2 = zone.load_g_per_m2;
  work.target_g_per_m2 = zone.target_g_per_m2;
  work.loose_l = litres;
  work.clutter = zone.zone == kNone ? Clutter::kSome : shop.zones[zone.zone].clutter;
  work.method = method_for(shop, duty.tool, surface_of(shop, zone.zone));
  work.errand = {shop.start, duty.tool == kNone ? duty.at : shop.tools[duty.tool].hangs_at,
                 duty.at};
  duty.minutes = zone_minutes(work);
  duty.errand_minutes = errand_minutes(work.errand);
  duty.passes = passes(work.load_g_per_m2, work.target_g_per_m2, work.method.pickup_share);
  return duty;
}

}  // namespace

Phase zone_phase(const Shop& shop, Index zone) {
  if (zone == kNone) return Phase::kFloor;
  switch (shop.zones[zone].kind) {
    case ZoneKind::kLedge:
      return Phase::kHigh;
    case ZoneKind::kTop:
    case ZoneKind::kMachine:
      return Phase::kMiddle;
    case ZoneKind::kFloor:
      return Phase::kFloor;
  }
  return Phase::kFloor;
}

std::string zone_caution(const Shop& shop, Index zone, bool metal) {
  if (metal) {
    return "Metal grit lies here: let it cool, brush it into the metal tin, and keep it out of "
           "wood "
           "dust, wood vacs and wood extraction. Machine off and unplugged or locked out before "
           "you reach in.";
  }
  if (zone_phase(shop, zone) == Phase::kHigh) {
    return "Mask and eye protection: dust comes down on you. Stand on a step made for it, machine "
           "off.";
  }
  if (zone != kNone && shop.zones[zone].kind == ZoneKind::kMachine) {
    return "Machine off and unplugged or locked out before you reach in.";
  }
  return {};
}

Point place_of(const Shop& shop, Index zone) {
  return zone == kNone ? shop.start : centroid(shop.zones[zone].corners);
}

std::string name_of(const Shop& shop, Index zone) {
  return zone == kNone ? "Open floor" : shop.zones[zone].name;
}

bool metal_on(const Shop& shop, const SessionDust& dust, Index zone) {
  return std::ranges::any_of(dust.machines, [&](const MachineDust& entry) {
    const MachineKind& kind = shop.machines[entry.machine].kind;
    return (kind.metal || kind.sparks) && thrown_here_g(entry, zone) >= kLeastMetal_g;
  });
}

Index tool_for(const Shop& shop, Surface surface, Point at, bool metal) {
  // In this order because each later one puts more dust back into the air.
  for (ToolKind kind : {ToolKind::kVac, ToolKind::kBroom, ToolKind::kBrush, ToolKind::kCloth}) {
    if (metal && kind == ToolKind::kVac) continue;
    const bool works = std::ranges::any_of(shop.methods, [&](const CleaningMethod& method) {
      return method.tool == kind && method.surface == surface;
    });
    if (!works) continue;
    Index nearest = kNone;
    for (size_t t = 0; t < shop.tools.size(); ++t) {
      if (shop.tools[t].kind != kind) continue;
      if (nearest == kNone ||
          distance(shop.tools[t].hangs_at, at) < distance(shop.tools[nearest].hangs_at, at)) {
        nearest = static_cast<Index>(t);
      }
    }
    if (nearest != kNone) return nearest;
  }
  return kNone;
}

CleaningMethod method_for(const Shop& shop, Index tool, Surface surface) {
  for (const CleaningMethod& method : shop.methods) {
    if (tool != kNone && method.tool == shop.tools[tool].kind && method.surface == surface) {
      return method;
    }
  }
  return {ToolKind::kBrush, surface, 1.5, 0.65};
}

Surface surface_of(const Shop& shop, Index zone) {
  return zone == kNone ? Surface::kConcrete : shop.zones[zone].surface;
}

std::vector<ZoneCase> zone_cases(const Shop& shop, const Overlay& overlay,
                                 const SessionDust& dust) {
  const std::vector<Polygon> rings = rings_of(dust);
  std::vector<ZoneCase> cases;
  double total = weighted(dust.open_floor.fallen_g, shop.policy);
  for (size_t z = 0; z < shop.zones.size(); ++z) {
    total += weighted(dust.zones[z].fallen_g, shop.policy);
    cases.push_back(measure(shop, overlay, dust, rings, static_cast<Index>(z),
                            signed_area_m2(shop.zones[z].corners)));
  }
  const double open_m2 = std::max(0.0, area_m2(overlay.open_floor));
  cases.push_back(measure(shop, overlay, dust, rings, kNone, open_m2));
  for (ZoneCase& zone : cases) {
    if (total > 0) {
      zone.weight = weighted(dust_on(dust, zone.zone).fallen_g, shop.policy) / total;
    }
  }
  return cases;
}

std::vector<Duty> zone_duties(const Shop& shop, const SessionDust& dust,
                              const std::vector<ZoneCase>& cases) {
  std::vector<Duty> duties;
  for (const ZoneCase& zone : cases) {
    if (zone.raised) duties.push_back(zone_duty(shop, dust, zone));
  }
  return duties;
}

}  // namespace chipfall
