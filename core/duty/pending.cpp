#include "core/duty/pending.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include <fmt/format.h>

#include "core/bins/lifting.h"
#include "core/dust/removal.h"
#include "core/duty/minutes.h"
#include "core/duty/say.h"
#include "core/duty/zones.h"
#include "core/shop/words.h"

namespace chipfall {
namespace {

/// Nothing is done in no time.
constexpr double kLeastOnTheSpot_minutes = 0.2;
/// Grit of a grinder is looked for this far from it [c.p.]; most of what it throws lands nearer.
/// Whatever lies farther was on the list that handed the duty on, which saw what had fallen.
constexpr double kGritReach_m = 1.5;

double age(const PendingDuty& pending) {
  return std::isfinite(pending.age_minutes) ? std::max(0.0, pending.age_minutes) : 0;
}

std::string since_of(const std::vector<PendingDuty>& from) {
  std::vector<std::string> reasons;
  bool passed_on = false;
  for (const PendingDuty& one : from) {
    passed_on |= one.passed_on;
    if (!one.reason.empty() && std::ranges::count(reasons, one.reason) == 0) {
      reasons.push_back(one.reason);
    }
  }
  std::string since =
      fmt::format("{} {}", passed_on ? "passed on" : "left open", say_age(age(from.front())));
  if (from.size() > 1) since += fmt::format(", on {} lists by now", from.size());
  for (size_t i = 0; i < reasons.size(); ++i) since += (i == 0 ? ": " : ", ") + reasons[i];
  return since;
}

std::string before_colon(const std::string& id) { return id.substr(0, id.find(':')); }

std::string behind_colon(const std::string& id) {
  const size_t colon = id.find(':');
  return colon == std::string::npos ? std::string() : id.substr(colon + 1);
}

bool names_vac(const std::string& title) {
  return title.find("Vac") != std::string::npos || title.find("vac") != std::string::npos;
}

bool near_grit(const Shop& shop, Index zone) {
  if (zone == kNone) return false;
  const Box box = bounds(shop.zones[zone].corners);
  return std::ranges::any_of(shop.machines, [&](const Machine& machine) {
    if (!machine.kind.metal && !machine.kind.sparks) return false;
    const Point nearest{std::clamp(machine.at.x, box.low.x, box.high.x),
                        std::clamp(machine.at.y, box.low.y, box.high.y)};
    return distance(machine.at, nearest) < kGritReach_m;
  });
}

void put_cleaning(const Shop& shop, const PendingDuty& pending, Duty& duty) {
  duty.at = place_of(shop, duty.zone);
  duty.phase = zone_phase(shop, duty.zone);
  // A list that did not say "vac" had its reason, and a vac full of hot grit is a fire.
  const bool grit = near_grit(shop, duty.zone);
  duty.tool =
      tool_for(shop, surface_of(shop, duty.zone), duty.at, grit || !names_vac(pending.title));
  if (duty.kind == DutyKind::kZone) duty.spread = kZoneSpread;
  add_sentences(zone_caution(shop, duty.zone, grit), duty.caution);
}

void put_reset(const Shop& shop, Duty& duty) {
  const Machine& machine = shop.machines[duty.machine];
  duty.phase = duty.safety ? Phase::kSafe : Phase::kMiddle;
  for (const std::string& id : machine.kind.resets) {
    const Index at = index_of(shop.duties, id);
    if (at == kNone || shop.duties[at].when != When::kMachineUsed) continue;
    duty.steps.push_back(fill_in(shop.duties[at].title, "machine", "it"));
    add_sentences(fill_in(shop.duties[at].caution, "machine", machine.name), duty.caution);
  }
}

void put_standard(const Shop& shop, const StandardDuty& standard, const PendingDuty& pending,
                  Duty& duty) {
  duty.phase = standard.phase;
  duty.spread = standard.spread;
  duty.safety = duty.safety || standard.safety;
  std::string caution = standard.caution;
  for (const char* key : {"bin", "collector", "machine", "zone"}) {
    caution = fill_in(caution, key, pending.place);
  }
  duty.caution = caution;
  if (standard.when != When::kBinEmpty || duty.bin == kNone) return;
  const Bin& bin = shop.bins[duty.bin];
  if (!bin.lift) return;
  const double bulk = kUnknownStockKgPerM3 / kExpansion[kCoarse];
  const double mass = bin.tare_kg + bulk * bin.empty_at * bin.volume_m3;
  if (lifting_index(mass, *bin.lift) > 1) duty.people = shop.policy.people_per_heavy_bag;
}

}  // namespace

std::vector<OwedDuty> merged(const std::vector<PendingDuty>& pending) {
  std::map<std::string, std::vector<PendingDuty>> by_id;
  for (const PendingDuty& one : pending) by_id[one.id].push_back(one);
  std::vector<OwedDuty> out;
  for (auto& [id, from] : by_id) {
    std::ranges::stable_sort(from, [](const PendingDuty& a, const PendingDuty& b) {
      return std::tuple(-age(a), a.session_device, a.session_sequence) <
             std::tuple(-age(b), b.session_device, b.session_sequence);
    });
    OwedDuty owed{from.back(), from, since_of(from)};
    for (const PendingDuty& one : from) {
      owed.duty.minutes = std::max(owed.duty.minutes, one.minutes);
      owed.duty.weight = std::max(owed.duty.weight, one.weight);
      owed.duty.safety |= one.safety;
      owed.duty.passed_on |= one.passed_on;
    }
    owed.duty.age_minutes = age(from.front());
    out.push_back(std::move(owed));
  }
  std::ranges::stable_sort(out, [](const OwedDuty& a, const OwedDuty& b) {
    return std::tuple(!a.duty.safety, -a.duty.age_minutes, a.duty.id) <
           std::tuple(!b.duty.safety, -b.duty.age_minutes, b.duty.id);
  });
  return out;
}

Point place_of(const Shop& shop, const Collector& collector) {
  if (collector.at) return *collector.at;
  return collector.chain.empty() ? shop.start : shop.bins[collector.chain.front()].at;
}

Duty duty_of(const Shop& shop, const OwedDuty& owed) {
  const PendingDuty& pending = owed.duty;
  Duty duty;
  duty.id = pending.id;
  duty.kind = parse<DutyKind>(pending.kind).value_or(DutyKind::kClose);
  duty.title = pending.title.empty() ? pending.id : pending.title;
  duty.why = owed.since;
  duty.zone = index_of(shop.zones, pending.zone);
  duty.machine = index_of(shop.machines, pending.machine);
  duty.bin = index_of(shop.bins, pending.bin);
  duty.place = pending.place;
  duty.weight = std::isfinite(pending.weight) ? std::max(0.0, pending.weight) : 0;
  duty.safety = pending.safety;
  duty.at = shop.start;
  const Index standard = index_of(shop.duties, before_colon(pending.id));
  if (standard != kNone) put_standard(shop, shop.duties[standard], pending, duty);
  const Index collector = index_of(shop.collectors, behind_colon(pending.id));
  const bool cleans = duty.kind == DutyKind::kZone || duty.kind == DutyKind::kCommon;
  if (cleans && (duty.zone != kNone || pending.zone.empty())) {
    put_cleaning(shop, pending, duty);
  } else if (duty.machine != kNone) {
    duty.at = shop.machines[duty.machine].at;
  } else if (duty.bin != kNone) {
    duty.at = shop.bins[duty.bin].at;
  } else if (collector != kNone) {
    duty.at = place_of(shop, shop.collectors[collector]);
    duty.collector = collector;
  }
  if (duty.kind == DutyKind::kReset && duty.machine != kNone) put_reset(shop, duty);
  const double minutes = std::isfinite(pending.minutes) ? pending.minutes : 1;
  duty.minutes = std::clamp(minutes, kLeastOnTheSpot_minutes, kMostPending_minutes);
  const Point hook = duty.tool == kNone ? duty.at : shop.tools[duty.tool].hangs_at;
  const double errand = duty.tool == kNone ? walk_minutes(distance(shop.start, duty.at))
                                           : errand_minutes({shop.start, hook, duty.at});
  duty.errand_minutes = std::clamp(errand, 0.0, duty.minutes - kLeastOnTheSpot_minutes);
  duty.published_minutes = duty.minutes;
  return duty;
}

bool has_place(const Duty& duty) {
  return duty.zone != kNone || duty.machine != kNone || duty.bin != kNone ||
         duty.collector != kNone || duty.id == "zone:open-floor";
}

}  // namespace chipfall
