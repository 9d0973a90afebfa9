#include <algorithm>
#include <set>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "core/shop/check_sheet.h"
#include "core/shop/defaults.h"

namespace chipfall {
namespace {

// Bounds that catch a wrong unit: cubic feet per minute, inches, gallons.
constexpr double kMostFlowM3PerH = 50'000;
constexpr double kMostVacFlowM3PerH = 1'000;
constexpr double kNarrowestBranchMm = 20;
constexpr double kWidestBranchMm = 500;
constexpr double kMostVolumeL = 5'000;
constexpr double kMostTareKg = 500;
constexpr double kMostFilterLoadG = 1e6;
constexpr double kDayMinutes = 1440;
constexpr double kMostLowAt = 10'000;  // more than any shop keeps of one thing

/// Bin that gets what this one lets pass, or kNone.
Index next_bin(const proto::ShopSheet& sheet, Index bin) {
  const std::string& then = sheet.bins(bin).then();
  if (then.empty()) return kNone;
  for (int i = 0; i < sheet.bins_size(); ++i) {
    if (sheet.bins(i).id() == then) return i;
  }
  return kNone;
}

bool is_trash(const proto::ShopSheet& sheet, const std::string& bin) {
  return std::ranges::any_of(sheet.bins(), [&](const proto::Bin& entry) {
    return entry.id() == bin && parse<BinKind>(entry.kind()) == BinKind::kTrash;
  });
}

/// Loops in the chains, each once, at its first bin in the sheet.
void check_loops(const Spot& root, const proto::ShopSheet& sheet) {
  std::vector<Index> next;
  for (int i = 0; i < sheet.bins_size(); ++i) next.push_back(next_bin(sheet, i));
  enum class Mark { kNew, kOnThisWalk, kDone };
  std::vector<Mark> marks(next.size(), Mark::kNew);
  for (Index start = 0; start < sheet.bins_size(); ++start) {
    std::vector<Index> walk;
    Index at = start;
    for (; at != kNone && marks[at] == Mark::kNew; at = next[at]) {
      marks[at] = Mark::kOnThisWalk;
      walk.push_back(at);
    }
    if (at != kNone && marks[at] == Mark::kOnThisWalk) {
      std::vector<Index> loop(std::ranges::find(walk, at), walk.end());
      std::rotate(loop.begin(), std::ranges::min_element(loop), loop.end());
      loop.push_back(loop.front());
      std::vector<std::string> ids;
      for (Index bin : loop) ids.push_back(sheet.bins(bin).id());
      root.entry("bins", loop.front())["then"].mistake(
          fmt::format("the bins go round in a loop: {}; let one of them end the chain",
                      fmt::join(ids, " -> ")));
    }
    for (Index bin : walk) marks[bin] = Mark::kDone;
  }
}

/// What the last bin lets pass comes back into the room, so it may only be fine dust.
void check_last_bin(const Spot& root, const proto::ShopSheet& sheet,
                    const proto::Collector& collector) {
  if (collector.outdoors()) return;
  Index last = kNone;
  const auto first = std::ranges::find_if(
      sheet.bins(), [&](const proto::Bin& bin) { return bin.id() == collector.first_bin(); });
  if (first != sheet.bins().end()) last = static_cast<Index>(first - sheet.bins().begin());
  for (int steps = 0; last != kNone && !sheet.bins(last).then().empty(); ++steps) {
    last = next_bin(sheet, last);
    if (steps > sheet.bins_size()) return;  // a loop, noted elsewhere
  }
  const auto kind = last == kNone ? std::nullopt : parse<BinKind>(sheet.bins(last).kind());
  if (!kind || *kind == BinKind::kTrash) return;
  const PerClass keeps = keeps_of(sheet.bins(last), *kind);
  if (!(keeps[kShavings] < 1 || keeps[kChips] < 1 || keeps[kCoarse] < 1)) return;
  root.entry("bins", last)["keeps"].mistake(fmt::format(
      "last bin of \"{}\", which blows back into the room: it must keep all shavings, chips and "
      "coarse dust (1, 1, 1); name the next bin in `then`, or say `outdoors: true` there",
      collector.id()));
}

void check_lift(const Spot& at, const proto::Lift& lift) {
  check_positive(at["hands_from_ankles_cm"], lift.hands_from_ankles_cm(), 100, "cm");
  check_range(at["hands_start_cm"], lift.hands_start_cm(), 0, 200, "cm");
  check_range(at["hands_end_cm"], lift.hands_end_cm(), 0, 200, "cm");
  check_range(at["twist_deg"], lift.twist_deg(), 0, 180, "degrees");
  check_word_if_any<Grip>(at["grip"], lift.grip());
}

void check_bin(const Spot& at, const proto::ShopSheet& sheet, const proto::Bin& bin,
               const Known& bins, const Known& supplies) {
  check_word<BinKind>(at["kind"], bin.kind());
  check_positive(at["volume_l"], bin.volume_l(), kMostVolumeL, "L");
  check_place(at["at"], bin.has_at(), bin.at(), {});  // a drum may stand outdoors
  check_shares(at["keeps"], bin.keeps());
  if (bin.has_empty_at()) check_range(at["empty_at"], bin.empty_at(), 0.1, 1);
  check_range(at["tare_kg"], bin.tare_kg(), 0, kMostTareKg, "kg");
  if (bin.has_lift()) check_lift(at["lift"], bin.lift());
  if (!bin.bag().empty()) check_reference(at["bag"], bin.bag(), supplies);
  if (bin.then().empty() || !check_reference(at["then"], bin.then(), bins)) return;
  if (is_trash(sheet, bin.then())) {
    at["then"].mistake(fmt::format("no air passes through a trash bin; \"{}\" is one", bin.then()));
  }
}

void check_timer(const Spot& at, const proto::AirFilter& filter) {
  double last = 0;
  for (int i = 0; i < filter.timer_steps_minutes_size(); ++i) {
    const double step = filter.timer_steps_minutes(i);
    const Spot spot = at.entry("timer_steps_minutes", i);
    if (!check_positive(spot, step, kDayMinutes, "min")) return;
    if (step <= last) {
      spot.mistake(
          fmt::format("{} min after {} min; give the steps in increasing order", step, last));
      return;
    }
    last = step;
  }
}

}  // namespace

void check_gates(const Spot& root, const proto::ShopSheet& sheet, const Polygon& outline) {
  check_ids(root, "gates", ids_of(sheet.gates()));
  const Known collectors{"a collector", ids_of(sheet.collectors())};
  std::set<std::string> used;
  for (const proto::Machine& machine : sheet.machines()) used.insert(machine.gate());
  for (int i = 0; i < sheet.gates_size(); ++i) {
    const proto::Gate& gate = sheet.gates(i);
    const Spot at = root.entry("gates", i);
    check_reference(at["collector"], gate.collector(), collectors);
    check_range(at["branch_mm"], gate.branch_mm(), kNarrowestBranchMm, kWidestBranchMm, "mm");
    check_place_if_any(at["at"], gate.has_at(), gate.at(), outline);
    if (!gate.id().empty() && !gate.floor_inlet() && !used.contains(gate.id())) {
      at.mistake(
          fmt::format("gate {} leads nowhere: no machine names it and it is not a "
                      "floor_inlet",
                      gate.id()));
    }
  }
}

void check_collectors(const Spot& root, const proto::ShopSheet& sheet) {
  check_ids(root, "collectors", ids_of(sheet.collectors()));
  const Known bins{"a bin", ids_of(sheet.bins())};
  for (int i = 0; i < sheet.collectors_size(); ++i) {
    const proto::Collector& collector = sheet.collectors(i);
    const Spot at = root.entry("collectors", i);
    const auto kind = check_word<CollectorKind>(at["kind"], collector.kind());
    check_positive(at["flow_m3_per_h"], collector.flow_m3_per_h(),
                   kind == CollectorKind::kVac ? kMostVacFlowM3PerH : kMostFlowM3PerH, "m3/h");
    if (collector.has_run_on_minutes()) {
      check_range(at["run_on_minutes"], collector.run_on_minutes(), 0, 240, "min");
    }
    if (collector.has_filter_clean_g()) {
      check_positive(at["filter_clean_g"], collector.filter_clean_g(), kMostFilterLoadG, "g");
    }
    check_place_if_any(at["at"], collector.has_at(), collector.at(), {});  // may stand outdoors
    if (!check_reference(at["first_bin"], collector.first_bin(), bins)) continue;
    if (is_trash(sheet, collector.first_bin())) {
      at["first_bin"].mistake(
          fmt::format("\"{}\" is a trash bin; name the tub, drum or bag that the air meets first",
                      collector.first_bin()));
    }
    check_last_bin(root, sheet, collector);
  }
}

void check_bins(const Spot& root, const proto::ShopSheet& sheet) {
  check_ids(root, "bins", ids_of(sheet.bins()));
  const Known bins{"a bin", ids_of(sheet.bins())};
  const Known supplies{"a supply", ids_of(sheet.supplies())};
  for (int i = 0; i < sheet.bins_size(); ++i) {
    check_bin(root.entry("bins", i), sheet, sheet.bins(i), bins, supplies);
  }
  check_loops(root, sheet);
}

void check_supplies(const Spot& root, const proto::ShopSheet& sheet) {
  check_ids(root, "supplies", ids_of(sheet.supplies()));
  for (int i = 0; i < sheet.supplies_size(); ++i) {
    check_range(root.entry("supplies", i)["low_at"], sheet.supplies(i).low_at(), 0, kMostLowAt);
  }
}

void check_air(const Spot& at, const proto::Air& air, const Polygon& outline) {
  check_range(at["exhaust_m3_per_h"], air.exhaust_m3_per_h(), 0, 2 * kMostFlowM3PerH, "m3/h");
  check_ids(at, "filters", ids_of(air.filters()));
  for (int i = 0; i < air.filters_size(); ++i) {
    const proto::AirFilter& filter = air.filters(i);
    const Spot spot = at.entry("filters", i);
    check_positive(spot["flow_m3_per_h"], filter.flow_m3_per_h(), kMostFlowM3PerH, "m3/h");
    check_positive(spot["efficiency"], filter.efficiency(), 1);
    check_timer(spot, filter);
    check_place_if_any(spot["at"], filter.has_at(), filter.at(), outline);
  }
}

}  // namespace chipfall
