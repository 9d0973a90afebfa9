#include "core/duty/lock_up.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/format.h>

#include "core/duty/closing_places.h"
#include "core/duty/learned.h"
#include "core/duty/order.h"
#include "core/duty/say.h"

namespace chipfall {
namespace {

/// A member's last look round is part of the volunteer's.
constexpr const char* kLastLook = "last-look";
constexpr const char* kTellTheCoordinator =
    "Not possible tonight: tell the coordinator before you leave.";

/// One duty of the building with the places that it is about.
struct Raised {
  LockUpDuty line;
  std::vector<ClosingPlace> places;
};

bool about(const StandardDuty& standard, PlaceKind kind) {
  return std::ranges::count(standard.places, kind) > 0;
}

Closing closing_of(const StandardDuty& standard) {
  if (about(standard, PlaceKind::kWayOut)) return Closing::kWayOut;
  if (about(standard, PlaceKind::kLightSwitch)) return Closing::kLights;
  if (about(standard, PlaceKind::kKeyBox)) return Closing::kKeys;
  if (about(standard, PlaceKind::kContainer)) return Closing::kTrash;
  return Closing::kAnytime;
}

double filter_minutes(const Shop& shop, const LockUpTonight& tonight) {
  double shortest = 0;
  for (const AirFilter& filter : shop.filters) {
    for (double step : filter.timer_steps_minutes) {
      if (step >= tonight.filter_minutes && (shortest == 0 || step < shortest)) shortest = step;
    }
  }
  return shortest > 0 ? shortest : tonight.filter_minutes;
}

std::string name_tonight(const ClosingPlace& place, const LockUpTonight& tonight) {
  const bool open = place.kind == PlaceKind::kGate &&
                    std::ranges::count(tonight.gates_left_open, place.entry) > 0;
  return open ? place.name + " (left open)" : place.name;
}

Raised raise(const Shop& shop, const StandardDuty& standard, std::vector<ClosingPlace> places,
             const LockUpTonight& tonight) {
  Raised raised;
  raised.line.building = true;
  raised.line.standard = standard.id;
  raised.line.closing = closing_of(standard);
  raised.line.placed = !places.empty() && places.front().at.has_value();
  Duty& duty = raised.line.duty;
  duty.id = places.empty() ? standard.id : standard.id + ":" + places.front().id;
  duty.kind = DutyKind::kClose;
  duty.title =
      fill_in(standard.title, "minutes", fmt::format("{:.0f}", filter_minutes(shop, tonight)));
  duty.why = standard.why;
  if (tonight.oily_rags && about(standard, PlaceKind::kRagCan)) {
    duty.why = "Oily rags were in use tonight. " + duty.why;
  }
  if (tonight.sparks && about(standard, PlaceKind::kDustBin)) {
    duty.why = "Metal sparks flew tonight. " + duty.why;
  }
  duty.caution = standard.caution;
  duty.phase = standard.phase;
  duty.safety = standard.safety;
  duty.weight = standard.weight;
  duty.spread = standard.spread;
  duty.minutes = standard.minutes * static_cast<double>(std::max<size_t>(1, places.size())) +
                 walk_within_minutes(places);
  duty.at = raised.line.placed ? middle_of(places) : shop.start;
  if (places.size() == 1) duty.place = name_tonight(places.front(), tonight);
  for (const ClosingPlace& place : places) {
    if (places.size() > 1) duty.steps.push_back(name_tonight(place, tonight));
  }
  // Without a door of its own in the sheet, the way out is where people come in.
  if (raised.line.closing == Closing::kWayOut) raised.line.placed = true;
  raised.places = std::move(places);
  return raised;
}

std::vector<Raised> building_duties(const Shop& shop, const LockUpTonight& tonight) {
  std::vector<Raised> out;
  for (const StandardDuty& standard : shop.duties) {
    if (standard.when != When::kLockUp) continue;
    const auto groups = grouped(closing_places(shop, standard.places), kOneStop_m);
    for (const std::vector<ClosingPlace>& group : groups) {
      out.push_back(raise(shop, standard, group, tonight));
    }
    const bool may_be_none =
        !standard.places.empty() && std::ranges::all_of(standard.places, listed_by_itself);
    if (groups.empty() && !may_be_none) out.push_back(raise(shop, standard, {}, tonight));
  }
  return out;
}

/// The rule that raised a pending duty, if it is a standard one.
std::optional<When> rule_of(const Shop& shop, const std::string& id) {
  const Index standard = index_of(shop.duties, id.substr(0, id.find(':')));
  return standard == kNone ? std::nullopt : std::optional(shop.duties[standard].when);
}

bool has(const Raised& raised, PlaceKind kind, Index entry) {
  return std::ranges::any_of(raised.places, [&](const ClosingPlace& place) {
    return place.kind == kind && place.entry == entry;
  });
}

/// The duty of the building that does what this rule or duty asks for.
bool does_as_well(const Shop& shop, const Raised& raised, const Duty& pending) {
  const std::optional<When> rule = rule_of(shop, pending.id);
  if (rule == When::kCollectorOff) return has(raised, PlaceKind::kCollector, pending.collector);
  const StandardDuty& standard = shop.duties[index_of(shop.duties, raised.line.standard)];
  if (rule == When::kFilterTimer) return about(standard, PlaceKind::kFilter);
  if (rule == When::kOilyRags) return about(standard, PlaceKind::kRagCan);
  if (pending.id == kLastLook) return about(standard, PlaceKind::kLightSwitch);
  // Passed on by last night's volunteer, when the sheet grouped these places otherwise.
  return raised.line.standard == pending.id.substr(0, pending.id.find(':'));
}

Raised* covers(const Shop& shop, const Duty& pending, std::vector<Raised>& building) {
  auto found = std::ranges::find(building, pending.id,
                                 [](const Raised& raised) { return raised.line.duty.id; });
  if (found == building.end()) {
    found = std::ranges::find_if(
        building, [&](const Raised& raised) { return does_as_well(shop, raised, pending); });
  }
  return found == building.end() ? nullptr : &*found;
}

bool cleans(const Duty& duty) {
  return duty.kind == DutyKind::kZone || duty.kind == DutyKind::kCommon;
}

bool swept_into(const Shop& shop, Index collector) {
  return std::ranges::any_of(shop.gates, [&](const Gate& gate) {
    return gate.floor_inlet && gate.collector == collector;
  });
}

bool is_a_vac(const Shop& shop, Index collector) {
  return std::ranges::count(shop.tools, collector, &CleaningTool::collector) > 0;
}

/// The cleaning may need this collector: its floor inlet, or it is a vac. Any vac: a crew's plan
/// may take another than the nearest.
bool cleans_with(const Shop& shop, const Duty& pending, Index collector) {
  if (!cleans(pending)) return false;
  const bool vac = pending.tool != kNone && shop.tools[pending.tool].kind == ToolKind::kVac;
  if (vac && is_a_vac(shop, collector)) return true;
  return pending.phase == Phase::kFloor && swept_into(shop, collector);
}

bool in_chain(const Shop& shop, Index collector, Index bin) {
  return std::ranges::count(shop.collectors[collector].chain, bin) > 0;
}

/// A bin or filter that is opened.
bool opens(const Shop& shop, const Duty& pending, const Raised& raised) {
  if (pending.kind != DutyKind::kBin && pending.kind != DutyKind::kFilter) return false;
  return std::ranges::any_of(raised.places, [&](const ClosingPlace& place) {
    if (place.kind == PlaceKind::kDustBin) {
      return pending.bin == place.entry ||
             (pending.collector != kNone && in_chain(shop, pending.collector, place.entry));
    }
    if (place.kind != PlaceKind::kCollector) return false;
    return pending.collector == place.entry ||
           (pending.bin != kNone && in_chain(shop, place.entry, pending.bin));
  });
}

/// Extraction off comes before what is done at its gates and bins.
bool needs_off(const Shop& shop, const Raised& off, const Raised& later) {
  return std::ranges::any_of(off.places, [&](const ClosingPlace& fan) {
    if (fan.kind != PlaceKind::kCollector) return false;
    return std::ranges::any_of(later.places, [&](const ClosingPlace& place) {
      if (place.kind == PlaceKind::kGate) return shop.gates[place.entry].collector == fan.entry;
      return place.kind == PlaceKind::kDustBin && in_chain(shop, fan.entry, place.entry);
    });
  });
}

void put_after(LockUpDuty& later, const LockUpDuty& earlier, bool needed = false) {
  if (std::ranges::count(later.duty.after, earlier.duty.id) == 0) {
    later.duty.after.push_back(earlier.duty.id);
  }
  if (needed) later.duty.needs.push_back(earlier.duty.id);
}

void order_with_building(const Shop& shop, LockUpDuty& pending, Raised& raised) {
  for (const ClosingPlace& place : raised.places) {
    const bool fan = place.kind == PlaceKind::kCollector;
    if (fan && cleans_with(shop, pending.duty, place.entry)) put_after(raised.line, pending);
  }
  if (opens(shop, pending.duty, raised)) put_after(pending, raised.line, true);
  const bool wastes = cleans(pending.duty) || pending.duty.kind == DutyKind::kBin ||
                      pending.duty.kind == DutyKind::kFilter ||
                      rule_of(shop, pending.duty.id) == When::kScraps;
  const bool scrap = !raised.places.empty() && raised.places[0].kind == PlaceKind::kTrashBin;
  const bool late = raised.line.closing >= Closing::kKeys;
  if (late || (wastes && (scrap || raised.line.closing == Closing::kTrash))) {
    put_after(raised.line, pending);
  }
}

void order_building(const Shop& shop, std::vector<Raised>& building) {
  for (Raised& later : building) {
    for (const Raised& earlier : building) {
      const bool scrap = !earlier.places.empty() && earlier.places[0].kind == PlaceKind::kTrashBin;
      const Closing when = later.line.closing;
      const bool follows = needs_off(shop, earlier, later) || (when == Closing::kTrash && scrap) ||
                           (when == Closing::kKeys && earlier.line.closing == Closing::kTrash) ||
                           (when >= Closing::kLights && earlier.line.closing < when);
      if (follows) put_after(later.line, earlier.line);
    }
  }
}

std::vector<SignOff> sign_off_of(const Shop& shop, const std::vector<LockUpDuty>& duties) {
  std::vector<SignOff> out;
  for (const LockUpDuty& line : duties) {
    if (!line.duty.safety) continue;
    const std::string id = line.building ? line.standard : line.duty.id;
    auto same = std::ranges::find(out, id, &SignOff::id);
    if (same == out.end()) {
      const Index standard = line.building ? index_of(shop.duties, line.standard) : kNone;
      const std::string if_not = standard == kNone ? "" : shop.duties[standard].if_not;
      out.push_back({id, line.duty.title, {}, if_not.empty() ? kTellTheCoordinator : if_not});
      same = out.end() - 1;
    }
    same->duties.push_back(line.duty.id);
  }
  return out;
}

std::vector<std::string> lock_up_cautions() {
  return {
      "Smoke, a glow, or a bin that feels warm: do not open it, do not move it. Everyone out, and "
      "call the fire service from outside. Never leave warm dust behind.",
      "Alone in the building: no ladders, no heavy bags, no machines. Pass those on.",
      "Wood dust burns, and stirred up it can explode: no sparks, no flames, no blowing off.",
      "Local rules, machine manuals and trained people come before this list. Unsure? Leave it and "
      "tell the coordinator.",
  };
}

std::vector<std::string> lock_up_notes(const Shop& shop, const ShopState& state) {
  std::vector<std::string> notes;
  for (size_t m = 0; m < shop.machines.size(); ++m) {
    if (!state.out_of_order[m]) continue;
    notes.push_back(
        fmt::format("{} is out of order: stop released, tag in place?", shop.machines[m].name));
  }
  return notes;
}

}  // namespace

LockUp lock_up(const Shop& shop, const ShopState& state, const std::vector<PendingDuty>& pending,
               const LockUpTonight& tonight) {
  std::vector<Raised> building = building_duties(shop, tonight);
  std::vector<OwedDuty> owed = merged(pending);
  std::vector<Duty> left;
  LockUp out;
  for (const OwedDuty& one : owed) {
    Duty duty = duty_of(shop, one);
    Raised* same = covers(shop, duty, building);
    if (same == nullptr) {
      left.push_back(std::move(duty));
      continue;
    }
    same->line.from.insert(same->line.from.end(), one.from.begin(), one.from.end());
    if (same->line.since.empty()) same->line.since = one.since;
    same->line.duty.safety |= one.duty.safety;
  }
  for (Duty& duty : in_order(shop, std::move(left))) {
    const auto from = std::ranges::find(owed, duty.id, [](const OwedDuty& o) { return o.duty.id; });
    LockUpDuty line;
    duty.minutes -= duty.errand_minutes;
    duty.published_minutes = duty.minutes;
    duty.errand_minutes = 0;
    line.placed = has_place(duty);
    line.from = from->from;
    line.since = from->since;
    line.duty = std::move(duty);
    out.duties.push_back(std::move(line));
  }
  // The building's minutes are learned here; pending ones were when their list was made.
  std::vector<Duty> timed;
  for (const Raised& raised : building) timed.push_back(raised.line.duty);
  apply_learned(state.finished, timed);
  for (size_t i = 0; i < building.size(); ++i) building[i].line.duty = std::move(timed[i]);
  order_building(shop, building);
  for (Raised& raised : building) {
    for (LockUpDuty& line : out.duties) order_with_building(shop, line, raised);
  }
  for (Raised& raised : building) out.duties.push_back(std::move(raised.line));
  out.sign_off = sign_off_of(shop, out.duties);
  out.cautions = lock_up_cautions();
  out.notes = lock_up_notes(shop, state);
  return out;
}

}  // namespace chipfall
