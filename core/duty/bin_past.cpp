#include "core/duty/bin_past.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <string_view>
#include <tuple>
#include <unordered_map>

#include <fmt/format.h>

#include "core/dust/removal.h"
#include "core/duty/zones.h"

namespace chipfall {
namespace {

constexpr double kMsPerMinute = 60'000;

Index nearest_trash(const Shop& shop, Point at) {
  Index nearest = kNone;
  for (size_t b = 0; b < shop.bins.size(); ++b) {
    if (shop.bins[b].kind != BinKind::kTrash) continue;
    if (nearest == kNone || distance(shop.bins[b].at, at) < distance(shop.bins[nearest].at, at)) {
      nearest = static_cast<Index>(b);
    }
  }
  return nearest;
}

/// What one entry adds to one bin.
struct Pour {
  double grams = 0;
  double m3 = 0;
};

class Pourer {
 public:
  Pourer(const Shop& shop, const ShopPast& past, const DayOf& day_of)
      : shop_(shop), day_of_(day_of) {
    out_.bins.resize(shop.bins.size());
    for (const PastSession& session : past.sessions) by_end_.push_back(&session);
    std::ranges::sort(by_end_, {}, [](const PastSession* session) {
      return std::tie(session->end_ms, session->id);
    });
    for (const PastSession* session : by_end_) {
      if (!session->id.empty()) by_id_.emplace(session->id, session);
    }
  }

  void pour_sessions();
  void pour_cleanings(const std::vector<PastCleaning>& cleanings);
  void take_facts(std::vector<PastBinFact> facts);
  BinPasts done();

 private:
  const PastSession* session_of(const PastCleaning& cleaning) const;
  void pour(Index bin, const std::string& id, std::int64_t at_ms, Pour amount, double spread);
  void pour_vac(const PastCleaning& cleaning, const Collector& collector, const PerClass& grams,
                double solid_kg_per_m3);
  void take_look(const PastBinFact& fact);
  Index bin_meant(const PastBinFact& fact) const;
  void note(const std::string& text) { notes_.insert(text); }

  const Shop& shop_;
  const DayOf& day_of_;
  std::vector<const PastSession*> by_end_;
  std::unordered_map<std::string_view, const PastSession*> by_id_;
  std::set<std::string> notes_;
  BinPasts out_;
};

void Pourer::pour(Index bin, const std::string& id, std::int64_t at_ms, Pour amount,
                  double spread) {
  if (bin == kNone || !(amount.m3 > 0)) return;
  BinPast& past = out_.bins[bin];
  past.caught_g += amount.grams;
  past.caught_m3 += amount.m3;
  const double share = amount.m3 / shop_.bins[bin].volume_m3;
  past.events.push_back(push_event(id, day_of_(at_ms), share, spread));
}

void Pourer::pour_sessions() {
  std::set<std::string> known;
  for (const PastSession* session : by_end_) {
    if (!known.insert(session->id).second) continue;
    for (size_t b = 0; b < shop_.bins.size(); ++b) {
      const auto bin = static_cast<Index>(b);
      if (b < session->bins.size()) {
        pour(bin, session->id, session->end_ms,
             {sum(session->bins[b].caught_g), session->bins[b].caught_m3}, kPushSpread);
      }
      if (b < session->scraps_m3.size()) {
        const double m3 = session->scraps_m3[b];
        pour(bin, session->id + " scraps", session->end_ms,
             {1000 * m3 * kScrapsSolidShare * session->solid_kg_per_m3, m3}, kScrapsSpread);
      }
    }
  }
}

const PastSession* Pourer::session_of(const PastCleaning& cleaning) const {
  if (const auto named = by_id_.find(cleaning.session); named != by_id_.end()) {
    return named->second;
  }
  const auto later = std::ranges::upper_bound(by_end_, cleaning.at_ms, {},
                                              [](const PastSession* s) { return s->end_ms; });
  return later == by_end_.begin() ? nullptr : *std::prev(later);
}

void Pourer::pour_vac(const PastCleaning& cleaning, const Collector& collector,
                      const PerClass& grams, double solid_kg_per_m3) {
  const Chain chain = follow_chain(shop_, collector, grams);
  for (size_t i = 0; i < collector.chain.size(); ++i) {
    pour(collector.chain[i], cleaning.id, cleaning.at_ms,
         {sum(chain.kept_g[i]), loose_volume_m3(chain.kept_g[i], solid_kg_per_m3)},
         kCleaningSpread);
  }
}

void Pourer::pour_cleanings(const std::vector<PastCleaning>& cleanings) {
  std::set<std::string> known;
  std::vector<const PastCleaning*> in_time;
  for (const PastCleaning& cleaning : cleanings) in_time.push_back(&cleaning);
  std::ranges::sort(in_time, {}, [](const PastCleaning* cleaning) {
    return std::tuple(cleaning->at_ms, cleaning->id);
  });
  // What lay there is picked up once: a second tap on the same zone finds it clean.
  std::set<std::pair<const PastSession*, Index>> cleaned;
  for (const PastCleaning* cleaning : in_time) {
    if (!known.insert(cleaning->id).second) continue;
    const PastSession* session = session_of(*cleaning);
    if (session == nullptr || !cleaned.emplace(session, cleaning->zone).second) continue;
    const Index zone = cleaning->zone;
    const bool metal = zone == kNone ? session->open_floor_metal : session->metal[zone];
    if (metal) continue;
    const Point at = place_of(shop_, zone);
    const Surface surface = surface_of(shop_, zone);
    const Index tool =
        cleaning->tool == kNone ? tool_for(shop_, surface, at, false) : cleaning->tool;
    const double share = method_for(shop_, tool, surface).pickup_share;
    const PerClass grams = share * (zone == kNone ? session->open_floor_g : session->lying_g[zone]);
    const bool vac = tool != kNone && shop_.tools[tool].collector != kNone;
    if (vac) {
      pour_vac(*cleaning, shop_.collectors[shop_.tools[tool].collector], grams,
               session->solid_kg_per_m3);
    } else {
      pour(nearest_trash(shop_, at), cleaning->id, cleaning->at_ms,
           {sum(grams), loose_volume_m3(grams, session->solid_kg_per_m3)}, kCleaningSpread);
    }
  }
}

Index Pourer::bin_meant(const PastBinFact& fact) const {
  const Index bin = index_of(shop_.bins, fact.bin);
  if (bin != kNone || fact.emptied || fact.seen != "weak pull") return bin;
  const Index machine = index_of(shop_.machines, fact.bin);
  const Index collector =
      machine != kNone ? shop_.machines[machine].collector : index_of(shop_.collectors, fact.bin);
  if (collector == kNone || shop_.collectors[collector].chain.empty()) return kNone;
  return shop_.collectors[collector].chain.front();
}

std::optional<Sighting> sighting_of(const std::string& word) {
  if (word == "room") return Sighting::kRoom;
  if (word == "half") return Sighting::kHalf;
  if (word == "full") return Sighting::kFull;
  if (word == "weak pull") return Sighting::kWeakPull;
  return std::nullopt;
}

void Pourer::take_look(const PastBinFact& fact) {
  const Index bin = bin_meant(fact);
  const std::optional<Sighting> sighting = sighting_of(fact.seen);
  if (bin == kNone) {
    note(fmt::format("\"{}\" was told of \"{}\", which this sheet has no bin for.", fact.seen,
                     fact.bin));
  } else if (!sighting) {
    note(fmt::format("{} was seen \"{}\": a word that this version does not know; it was not used.",
                     shop_.bins[bin].name, fact.seen));
  } else {
    out_.bins[bin].events.push_back(sighting_event(fact.id, day_of_(fact.at_ms), *sighting));
  }
}

void Pourer::take_facts(std::vector<PastBinFact> facts) {
  std::ranges::sort(facts, {}, [](const PastBinFact& fact) {
    return std::tuple(fact.at_ms, fact.id, fact.bin, fact.emptied, fact.bag_replaced, fact.seen);
  });
  struct Last {
    std::int64_t at_ms = 0;
    bool bag_counted = false;
  };
  std::map<Index, Last> last_emptied;
  std::set<std::string> known;
  for (const PastBinFact& fact : facts) {
    if (!fact.id.empty() && !known.insert(fact.id).second) continue;
    if (!fact.emptied) {
      take_look(fact);
      continue;
    }
    const Index bin = index_of(shop_.bins, fact.bin);
    if (bin == kNone) {
      note(fmt::format("\"{}\" was emptied, which this sheet has no bin for.", fact.bin));
      continue;
    }
    const double day = day_of_(fact.at_ms);
    const auto found = last_emptied.find(bin);
    const bool same =
        found != last_emptied.end() && static_cast<double>(fact.at_ms - found->second.at_ms) <=
                                           kSameEmptying_minutes * kMsPerMinute;
    if (!same) {
      last_emptied[bin] = {fact.at_ms, false};
      out_.bins[bin].events.push_back(emptied_event(fact.id, day));
    }
    if (fact.bag_replaced && !last_emptied[bin].bag_counted) {
      last_emptied[bin].bag_counted = true;
      out_.bins[bin].bags_replaced.push_back(day);
    }
  }
}

BinPasts Pourer::done() {
  for (BinPast& bin : out_.bins) bin.events = in_event_order(std::move(bin.events));
  out_.notes.assign(notes_.begin(), notes_.end());
  return std::move(out_);
}

}  // namespace

PastSession past_session(const Shop& shop, const Session& session, const SessionDust& dust,
                         std::string id, std::int64_t end_ms) {
  PastSession out;
  out.id = std::move(id);
  out.end_ms = end_ms;
  out.bins = dust.bins;
  for (size_t z = 0; z < dust.zones.size(); ++z) {
    out.lying_g.push_back(dust.zones[z].lying_g());
    out.metal.push_back(metal_on(shop, dust, static_cast<Index>(z)));
  }
  out.open_floor_g = dust.open_floor.lying_g();
  out.open_floor_metal = metal_on(shop, dust, kNone);
  out.scraps_m3.resize(shop.bins.size());
  double grams = 0;
  double solid_m3 = 0;
  for (size_t u = 0; u < session.uses.size(); ++u) {
    const Use& use = session.uses[u];
    const Machine& machine = shop.machines[use.machine];
    if (use.stock.family == Family::kMetal || machine.kind.metal) continue;
    const double removed_g = sum(dust.uses[u].removed_g);
    const double removed_m3 = removed_g / 1000 / density_kg_per_m3(use.stock);
    grams += removed_g;
    solid_m3 += removed_m3;
    const Index trash = nearest_trash(shop, machine.at);
    if (machine.kind.cut.kind == Cut::Kind::kKerf && trash != kNone) {
      out.scraps_m3[trash] += kScrapsPerSawn * removed_m3;
    }
  }
  out.solid_kg_per_m3 = solid_m3 > 0 ? grams / 1000 / solid_m3 : kUnknownStockKgPerM3;
  return out;
}

BinPasts bin_pasts(const Shop& shop, const ShopPast& past, const DayOf& day_of) {
  Pourer pourer(shop, past, day_of);
  pourer.pour_sessions();
  pourer.pour_cleanings(past.cleanings);
  pourer.take_facts(past.facts);
  return pourer.done();
}

}  // namespace chipfall
