#include "core/dust/account.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <map>

#include "core/dust/fall.h"
#include "core/dust/removal.h"

namespace chipfall {
namespace {

constexpr int kRingCorners = 32;

/// One machine's throw, the same for all its uses.
struct MachineFall {
  std::array<FallShares, kChipClasses> shares;
  size_t entry = 0;  ///< of SessionDust::machines
};

MachineFall fall_of(const Shop& shop, const Overlay& overlay, Index index, SessionDust& dust) {
  const Machine& machine = shop.machines[index];
  const View view = view_from(shop, overlay, machine.at, reach_m(machine.kind));
  MachineFall fall;
  for (ChipClass c : kAllClasses) {
    // Any stock may break into fine dust, whatever the kind's own share of it.
    if (c != kFine && machine.kind.class_shares[c] <= 0) {
      fall.shares[c].zones.assign(shop.zones.size(), 0);
      continue;
    }
    fall.shares[c] =
        fall_shares(shop, view, machine.at, machine.heading_rad, machine.kind.thrown[c]);
  }
  fall.entry = dust.machines.size();
  MachineDust entry{
      index, std::vector<double>(shop.zones.size(), 0), 0, clean_out_m(machine.kind), {}};
  entry.ring = intersection(disc(machine.at, entry.clean_out_m, kRingCorners, machine.heading_rad),
                            view.visible);
  dust.machines.push_back(std::move(entry));
  return fall;
}

void land(ZoneDust& zone, ChipClass c, double grams, double solid_kg_per_m3) {
  zone.fallen_g[c] += grams;
  zone.fallen_solid_m3 += grams / 1000 / solid_kg_per_m3;
}

void note_machine(const FallShares& shares, double grams, MachineDust& machine) {
  for (size_t z = 0; z < machine.zones_g.size(); ++z) {
    machine.zones_g[z] += grams * shares.zones[z];
  }
  machine.open_floor_g += grams * shares.open_floor;
}

void spread(const FallShares& shares, ChipClass c, double grams, double solid_kg_per_m3,
            SessionDust& dust) {
  if (grams <= 0) return;
  for (size_t z = 0; z < dust.zones.size(); ++z) {
    land(dust.zones[z], c, grams * shares.zones[z], solid_kg_per_m3);
  }
  land(dust.open_floor, c, grams * shares.open_floor, solid_kg_per_m3);
}

/// The worst bin of the chain decides how the collector draws.
double chain_choke(const Shop& shop, const Collector& collector, const ShopState& state,
                   const SessionDust& dust) {
  double factor = 1;
  for (Index bin : collector.chain) {
    const double caught = dust.bins[bin].caught_m3 / shop.bins[bin].volume_m3;
    factor = std::min(factor, expected_choke(state.bins[bin], caught));
  }
  return factor;
}

/// Puts what was captured into bins; what passes them all goes outdoors or back into the air.
double into_bins(const Shop& shop, const Collector& collector, const PerClass& captured_g,
                 double solid_kg_per_m3, SessionDust& dust) {
  const Chain chain = follow_chain(shop, collector, captured_g);
  for (size_t i = 0; i < collector.chain.size(); ++i) {
    BinDust& bin = dust.bins[collector.chain[i]];
    bin.caught_g = bin.caught_g + chain.kept_g[i];
    bin.caught_m3 += loose_volume_m3(chain.kept_g[i], solid_kg_per_m3);
    if (i + 1 == collector.chain.size()) bin.caught_fine_g += chain.kept_g[i][kFine];
    dust.balance.in_bins += sum(chain.kept_g[i]);
  }
  if (!collector.outdoors) return chain.passed_g;
  dust.balance.vented += chain.passed_g;
  return 0;
}

void account_use(const Shop& shop, const ShopState& state, const Use& use, const MachineFall& fall,
                 UseDust& out, SessionDust& dust) {
  const Machine& machine = shop.machines[use.machine];
  const double solid = density_kg_per_m3(use.stock);
  out.removed_g = removal_g(machine.kind, use.stock, use.minutes);
  out.clean_out_m = dust.machines[fall.entry].clean_out_m;
  double returned_g = 0;
  if (use.extraction && machine.collector != kNone) {
    const Collector& collector = shop.collectors[machine.collector];
    out.capture_factor = out.running.factor * chain_choke(shop, collector, state, dust);
    for (ChipClass c : kAllClasses) {
      out.captured_g[c] = out.removed_g[c] * machine.capture[c] * out.capture_factor;
    }
    returned_g = into_bins(shop, collector, out.captured_g, solid, dust);
  }
  out.escaped_g = out.removed_g + -1.0 * out.captured_g;
  const double airborne_g = out.escaped_g[kFine] * machine.kind.airborne_share;
  for (ChipClass c : kAllClasses) {
    const double thrown_g = out.escaped_g[c] - (c == kFine ? airborne_g : 0);
    spread(fall.shares[c], c, thrown_g, solid, dust);
    note_machine(fall.shares[c], thrown_g, dust.machines[fall.entry]);
  }
  dust.emissions.push_back({airborne_g + returned_g, out.running.from_minute, out.running.to_minute,
                            machine.kind.airborne_median_um, machine.kind.airborne_gsd});
}

/// Solid density of what is in the air: fine dust of several stocks mixes.
double airborne_solid_kg_per_m3(const Session& session, const SessionDust& dust) {
  double grams = 0;
  double volume = 0;
  for (size_t u = 0; u < session.uses.size(); ++u) {
    grams += dust.emissions[u].grams;
    volume += dust.emissions[u].grams / density_kg_per_m3(session.uses[u].stock);
  }
  return volume > 0 ? grams / volume : kUnknownStockKgPerM3;
}

void account_air(const Shop& shop, const Overlay& overlay, const Session& session,
                 SessionDust& dust) {
  dust.air = air_account(dust.emissions, rates_during(shop), shop.ceiling_m, dust.end_minute);
  const FallShares even = even_shares(shop, overlay);
  spread(even, kFine, dust.air.settled, airborne_solid_kg_per_m3(session, dust), dust);
  const AirRates after = rates_after(shop);
  double settling_g = 0;
  for (size_t i = 0; i < dust.air.airborne.size(); ++i) {
    const double settling = dust.air.settling_per_s[i];
    settling_g += dust.air.airborne[i] * settling / (settling + after.filters + after.exhaust);
  }
  for (size_t z = 0; z < dust.zones.size(); ++z) {
    dust.zones[z].settling_g = settling_g * even.zones[z];
  }
  dust.open_floor.settling_g = settling_g * even.open_floor;
}

void close_account(SessionDust& dust) {
  Balance& balance = dust.balance;
  for (const UseDust& use : dust.uses) balance.removed += sum(use.removed_g);
  for (const ZoneDust& zone : dust.zones) balance.on_zones += sum(zone.fallen_g);
  balance.on_zones += sum(dust.open_floor.fallen_g);
  balance.filtered += dust.air.filtered;
  balance.vented += dust.air.vented;
  balance.airborne = dust.air.airborne_g();
  assert(std::abs(balance.difference()) <= 1e-9 * balance.removed);
}

}  // namespace

PerClass ZoneDust::lying_g() const { return before_g + fallen_g; }

double Balance::difference() const {
  return removed - (in_bins + on_zones + filtered + vented + airborne);
}

double clean_out_m(const MachineKind& kind) {
  PerClass thrown = kind.class_shares;
  thrown[kFine] *= 1 - kind.airborne_share;
  return radius_holding_m(kind.thrown, thrown, kCleanOutShare);
}

SessionDust dust_of(const Shop& shop, const Overlay& overlay, const ShopState& state,
                    const Session& session) {
  SessionDust dust;
  dust.zones.resize(shop.zones.size());
  for (size_t z = 0; z < shop.zones.size(); ++z) dust.zones[z].before_g = state.zones[z];
  dust.open_floor.before_g = state.open_floor;
  dust.bins.resize(shop.bins.size());
  dust.uses.resize(session.uses.size());
  const std::vector<Running> running = run_uses(shop, session);
  dust.end_minute = session.minutes;
  std::vector<size_t> by_time(session.uses.size());
  for (size_t u = 0; u < by_time.size(); ++u) {
    by_time[u] = u;
    dust.uses[u].running = running[u];
    dust.end_minute = std::max(dust.end_minute, running[u].to_minute);
  }
  std::ranges::stable_sort(by_time, {}, [&](size_t u) { return running[u].from_minute; });
  dust.emissions.reserve(by_time.size());
  std::map<Index, MachineFall> falls;
  for (size_t u : by_time) {
    const Index m = session.uses[u].machine;
    if (!falls.contains(m)) falls.emplace(m, fall_of(shop, overlay, m, dust));
    account_use(shop, state, session.uses[u], falls.at(m), dust.uses[u], dust);
  }
  account_air(shop, overlay, session, dust);
  close_account(dust);
  return dust;
}

}  // namespace chipfall
