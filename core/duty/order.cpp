#include "core/duty/order.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <set>
#include <tuple>

namespace chipfall {
namespace {

bool cleans_zone(const Duty& duty) {
  return duty.kind == DutyKind::kZone || duty.kind == DutyKind::kCommon;
}

bool over(const Shop& shop, const Duty& upper, const Duty& lower) {
  if (!cleans_zone(upper) || !cleans_zone(lower) || upper.zone == kNone) return false;
  if (upper.zone == lower.zone) return false;
  const Zone& high = shop.zones[upper.zone];
  // Dust from a ledge comes down over everything; from a bench, on the floor under it.
  if (lower.zone == kNone) return true;
  const Zone& low = shop.zones[lower.zone];
  if (high.height_m <= low.height_m) return false;
  if (high.kind == ZoneKind::kLedge) return true;
  return !apart(bounds(high.corners), bounds(low.corners)) &&
         !intersection(high.corners, low.corners).empty();
}

bool makes_safe(const Shop& shop, const Duty& reset, const Duty& cleaning) {
  return reset.kind == DutyKind::kReset && reset.phase == Phase::kSafe && cleans_zone(cleaning) &&
         cleaning.zone != kNone && shop.machines[reset.machine].zone == cleaning.zone;
}

bool frees_vac(const Shop& shop, const Duty& emptying, const Duty& cleaning) {
  if (emptying.kind != DutyKind::kBin || emptying.phase != Phase::kSafe) return false;
  if (cleaning.tool == kNone || !cleans_zone(cleaning)) return false;
  const Index collector = shop.tools[cleaning.tool].collector;
  if (collector == kNone) return false;
  return std::ranges::find(shop.collectors[collector].chain, emptying.bin) !=
         shop.collectors[collector].chain.end();
}

/// Closing acts wait for the cleaning and the bins; a safety duty among them is the last look
/// round, and waits for everything else.
bool closes(const Duty& earlier, const Duty& later) {
  if (later.phase != Phase::kLast || earlier.phase == Phase::kLast) return false;
  return later.safety || cleans_zone(earlier) || earlier.phase == Phase::kBins;
}

/// Floors may be swept to an inlet in the floor as long as its collector runs.
bool sweeps_to(const Shop& shop, const Duty& cleaning, const Duty& off) {
  if (off.collector == kNone || cleaning.phase != Phase::kFloor) return false;
  return std::ranges::any_of(shop.gates, [&](const Gate& gate) {
    return gate.floor_inlet && gate.collector == off.collector;
  });
}

void fill_in_after(const Shop& shop, std::vector<Duty>& duties) {
  for (Duty& later : duties) {
    for (const Duty& earlier : duties) {
      const bool needed = makes_safe(shop, earlier, later) || frees_vac(shop, earlier, later);
      if (needed) later.needs.push_back(earlier.id);
      if (needed || over(shop, earlier, later) || sweeps_to(shop, earlier, later) ||
          closes(earlier, later)) {
        later.after.push_back(earlier.id);
      }
    }
  }
}

bool ready(const Duty& duty, const std::set<std::string>& done) {
  return std::ranges::all_of(duty.after, [&](const std::string& id) { return done.contains(id); });
}

}  // namespace

std::vector<Duty> in_order(const Shop& shop, std::vector<Duty> duties) {
  fill_in_after(shop, duties);
  std::vector<Duty> ordered;
  std::set<std::string> done;
  Point here = shop.start;
  while (!duties.empty()) {
    const auto rank = [&](const Duty& duty) {
      const bool vac = duty.tool != kNone && shop.tools[duty.tool].kind == ToolKind::kVac;
      const bool broom_work = duty.phase == Phase::kFloor && !vac;
      // A safety duty of the last phase is the look round: it ends the list.
      const bool ends = duty.phase == Phase::kLast && duty.safety;
      // Heat and oily rags wait for nothing else that is merely to be made safe.
      const bool urgent =
          duty.phase == Phase::kSafe && duty.safety && duty.kind == DutyKind::kClose;
      return std::tuple(!ready(duty, done), duty.phase, !urgent, broom_work, ends,
                        std::lround(100 * distance(here, duty.at)), duty.id);
    };
    const auto next = std::ranges::min_element(duties, {}, rank);
    // `after` follows heights and phases, so there is no circle: something is always ready.
    assert(ready(*next, done));
    here = next->at;
    done.insert(next->id);
    ordered.push_back(std::move(*next));
    duties.erase(next);
  }
  return ordered;
}

}  // namespace chipfall
