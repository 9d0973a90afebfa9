#include "core/duty/closing_places.h"

#include <algorithm>
#include <cmath>

#include "core/duty/minutes.h"
#include "core/duty/pending.h"

namespace chipfall {
namespace {

std::optional<Point> place_of_gate(const Shop& shop, Index gate) {
  if (shop.gates[gate].at) return shop.gates[gate].at;
  for (const Machine& machine : shop.machines) {
    if (machine.gate == gate) return machine.at;
  }
  return std::nullopt;
}

void add_kind(const Shop& shop, PlaceKind kind, std::vector<ClosingPlace>& out) {
  const auto add = [&](size_t entry, const auto& named, std::optional<Point> at) {
    out.push_back({kind, static_cast<Index>(entry), named.id, named.name, at});
  };
  switch (kind) {
    case PlaceKind::kGate:
      for (size_t i = 0; i < shop.gates.size(); ++i) {
        add(i, shop.gates[i], place_of_gate(shop, static_cast<Index>(i)));
      }
      return;
    case PlaceKind::kCollector:
      for (size_t i = 0; i < shop.collectors.size(); ++i) {
        add(i, shop.collectors[i], place_of(shop, shop.collectors[i]));
      }
      return;
    case PlaceKind::kFilter:
      for (size_t i = 0; i < shop.filters.size(); ++i) {
        if (shop.filters[i].timer_steps_minutes.empty()) continue;
        add(i, shop.filters[i], shop.filters[i].at);
      }
      return;
    case PlaceKind::kDustBin:
    case PlaceKind::kTrashBin:
      for (size_t i = 0; i < shop.bins.size(); ++i) {
        const bool trash = shop.bins[i].kind == BinKind::kTrash;
        if (trash == (kind == PlaceKind::kTrashBin)) add(i, shop.bins[i], shop.bins[i].at);
      }
      return;
    default:
      for (size_t i = 0; i < shop.stations.size(); ++i) {
        if (shop.stations[i].kind == kind) add(i, shop.stations[i], shop.stations[i].at);
      }
  }
}

}  // namespace

bool listed_by_itself(PlaceKind kind) {
  return kind == PlaceKind::kGate || kind == PlaceKind::kCollector || kind == PlaceKind::kFilter ||
         kind == PlaceKind::kDustBin || kind == PlaceKind::kTrashBin;
}

std::vector<ClosingPlace> closing_places(const Shop& shop, const std::vector<PlaceKind>& kinds) {
  std::vector<ClosingPlace> out;
  for (PlaceKind kind : kinds) add_kind(shop, kind, out);
  return out;
}

std::vector<std::vector<ClosingPlace>> grouped(const std::vector<ClosingPlace>& places,
                                               double reach_m) {
  std::vector<ClosingPlace> somewhere;
  std::vector<ClosingPlace> anywhere;
  for (const ClosingPlace& place : places) (place.at ? somewhere : anywhere).push_back(place);
  struct Pair {
    double apart_m;
    size_t a, b;
  };
  std::vector<Pair> pairs;
  std::vector<std::vector<size_t>> members;
  std::vector<size_t> group_of;
  for (size_t b = 0; b < somewhere.size(); ++b) {
    members.push_back({b});
    group_of.push_back(b);
    for (size_t a = 0; a < b; ++a) {
      const double apart_m = distance(*somewhere[a].at, *somewhere[b].at);
      if (apart_m < reach_m) pairs.push_back({apart_m, a, b});
    }
  }
  // Nearest pairs first, so that none is left over beside a group that took its neighbour.
  std::ranges::stable_sort(pairs, {}, &Pair::apart_m);
  for (const Pair& pair : pairs) {
    const size_t into = std::min(group_of[pair.a], group_of[pair.b]);
    const size_t from = std::max(group_of[pair.a], group_of[pair.b]);
    if (into == from) continue;
    const bool close = std::ranges::all_of(members[into], [&](size_t i) {
      return std::ranges::all_of(members[from], [&](size_t j) {
        return distance(*somewhere[i].at, *somewhere[j].at) < reach_m;
      });
    });
    if (!close) continue;
    for (size_t moved : members[from]) group_of[moved] = into;
    members[into].insert(members[into].end(), members[from].begin(), members[from].end());
    members[from].clear();
  }
  std::vector<std::vector<ClosingPlace>> groups;
  for (std::vector<size_t>& own : members) {
    if (own.empty()) continue;
    std::ranges::sort(own);
    std::vector<ClosingPlace>& group = groups.emplace_back();
    for (size_t i : own) group.push_back(somewhere[i]);
  }
  if (!anywhere.empty()) groups.push_back(std::move(anywhere));
  return groups;
}

Point middle_of(const std::vector<ClosingPlace>& group) {
  const auto total = [&](const ClosingPlace& from) {
    double sum = 0;
    for (const ClosingPlace& to : group) sum += distance(*from.at, *to.at);
    return sum;
  };
  return *std::ranges::min_element(group, {}, total)->at;
}

double walk_within_minutes(const std::vector<ClosingPlace>& group) {
  if (group.size() < 2 || !group.front().at) return 0;
  // A handful: from each, always to the nearest that is left, is as good as any.
  double least = HUGE_VAL;
  for (size_t start = 0; start < group.size(); ++start) {
    std::vector<Point> left;
    for (size_t i = 0; i < group.size(); ++i) {
      if (i != start) left.push_back(*group[i].at);
    }
    Point here = *group[start].at;
    double total = 0;
    while (!left.empty()) {
      const auto next =
          std::ranges::min_element(left, {}, [&](Point to) { return distance(here, to); });
      total += walk_minutes(distance(here, *next));
      here = *next;
      left.erase(next);
    }
    least = std::min(least, total);
  }
  return least;
}

}  // namespace chipfall
