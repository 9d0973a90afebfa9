#include "core/crew/round.h"

#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "core/duty/minutes.h"
#include "core/duty/rules.h"
#include "core/duty/say.h"

namespace chipfall {
namespace {

/// Why this bin is on the round; empty when it is not.
std::string reason(const Shop& shop, const BinOutlook& outlook, const RoundAsk& ask,
                   double now_day) {
  const Bin& bin = shop.bins[outlook.bin];
  if (outlook.chance_full >= ask.sure) {
    return fmt::format("full with a chance of {}", say_chance(outlook.chance_full));
  }
  if (outlook.expected_fill >= bin.empty_at) {
    return fmt::format("about {} full; it draws badly from {} on",
                       say_percent(outlook.expected_fill), say_percent(bin.empty_at));
  }
  const std::optional<int>& half = outlook.full.days_to_half_chance;
  if (ask.next_round_days && half && *half < *ask.next_round_days) {
    return fmt::format("probably full by {}, before the next round",
                       say_day(now_day + *half, now_day));
  }
  return {};
}

const StandardDuty* emptying_duty(const Shop& shop) {
  for (const StandardDuty& duty : shop.duties) {
    if (duty.when == When::kBinEmpty) return &duty;
  }
  return nullptr;
}

bool makes_sparks_into(const Shop& shop, Index bin) {
  return std::ranges::any_of(shop.machines, [&](const Machine& machine) {
    if (machine.collector == kNone || !(machine.kind.sparks || machine.kind.metal)) return false;
    const std::vector<Index>& chain = shop.collectors[machine.collector].chain;
    return std::ranges::find(chain, bin) != chain.end();
  });
}

RoundStop stop_at(const Shop& shop, const BinOutlook& outlook, std::string why) {
  const Bin& bin = shop.bins[outlook.bin];
  const double fill = std::min(1.0, outlook.expected_fill);
  RoundStop stop;
  stop.bin = outlook.bin;
  stop.why = std::move(why);
  stop.litres = 1000 * bin.volume_m3 * fill;
  stop.kg = bin.tare_kg + outlook.bulk_kg_per_m3 * bin.volume_m3 * fill;
  const StandardDuty* duty = emptying_duty(shop);
  stop.minutes =
      (duty == nullptr ? kEmptying_minutes : duty->minutes) + kEmpty_minutes_per_l * stop.litres;
  if (bin.lift) {
    stop.lifting_index = lifting_index(stop.kg, *bin.lift);
    if (*stop.lifting_index > 1) stop.people = shop.policy.people_per_heavy_bag;
    if (*stop.lifting_index > stop.people) {
      stop.cautions.push_back(
          "Too heavy even so: scoop some out first, or bring a cart. Nobody lifts it alone.");
    } else if (*stop.lifting_index > 1) {
      stop.cautions.push_back(fmt::format("{} people lift it, at about {}.", stop.people,
                                          say_mass(1000 * stop.kg, shop.policy.units)));
    }
  }
  if (makes_sparks_into(shop, outlook.bin)) {
    stop.cautions.push_back("Metal or sparks may have gone in: look for heat before you move it.");
  }
  return stop;
}

void walk(const Shop& shop, const RouteFinder& find, Round& round) {
  if (round.stops.empty()) return;
  std::vector<Point> places{shop.start};
  for (const RoundStop& stop : round.stops) places.push_back(shop.bins[stop.bin].at);
  RouteProblem problem;
  for (const Point& from : places) {
    std::vector<double>& row = problem.minutes.emplace_back();
    for (const Point& to : places) row.push_back(walk_minutes(distance(from, to)));
  }
  const Route route = find(problem);
  std::vector<RoundStop> in_order;
  for (int stop : route.order) in_order.push_back(std::move(round.stops[stop - 1]));
  round.stops = std::move(in_order);
  round.walk_minutes = route.minutes;
  round.walk_lower_bound_minutes = route.lower_bound_minutes;
  round.proven = route.proven;
}

void pack_bags(const Shop& shop, const RoundAsk& ask, Round& round) {
  std::map<Index, int> counts;
  for (const RoundStop& stop : round.stops) {
    const Index bag = shop.bins[stop.bin].bag;
    if (bag != kNone) ++counts[bag];
  }
  for (const auto& [supply, count] : counts) {
    RoundBags& bags = round.bags.emplace_back();
    bags.supply = supply;
    bags.count = count;
    if (static_cast<size_t>(supply) < ask.supplies_left.size()) {
      bags.left = ask.supplies_left[supply];
    }
  }
}

std::vector<std::string> cautions_of_round() {
  return {
      "Eye protection and a fitted mask before you open anything, and until the dust has settled.",
      "Switch the machine and its extraction off, let them stop, and unplug or lock them out "
      "before "
      "you reach in.",
      "Feel each bin from outside first. Warm, or a smell of smoke: leave it closed, warn everyone "
      "and follow the shop's fire rules.",
      "Wood dust burns and can explode: no sparks, no flames, no shaking out indoors. Tie bags off "
      "before you carry them.",
      "Where the dust may go is for the local codes to say; machine manuals and trained people "
      "come "
      "before this list."};
}

}  // namespace

Round plan_round(const Shop& shop, const std::vector<BinOutlook>& outlooks, const RoundAsk& ask,
                 double now_day, const RouteFinder& route) {
  Round round;
  for (const BinOutlook& outlook : outlooks) {
    if (outlook.look_first) {
      round.looks.push_back(outlook.bin);
      continue;
    }
    if (!outlook.known) continue;
    std::string why = reason(shop, outlook, ask, now_day);
    if (!why.empty()) round.stops.push_back(stop_at(shop, outlook, std::move(why)));
  }
  walk(shop, route, round);
  pack_bags(shop, ask, round);
  round.minutes = round.walk_minutes;
  for (const RoundStop& stop : round.stops) {
    round.minutes += stop.minutes;
    round.people = std::max(round.people, stop.people);
  }
  if (!round.stops.empty() || !round.looks.empty()) round.cautions = cautions_of_round();
  return round;
}

}  // namespace chipfall
