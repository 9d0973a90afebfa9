#include "core/door/remembered.h"

#include <algorithm>
#include <map>
#include <memory>

#include <fmt/format.h>
#include <boost/crc.hpp>

#include "core/door/kept_falls.h"

namespace chipfall {
namespace {

/// Names the sheet's text among the few that one shop ever had.
std::string key_of(const std::string& sheet) {
  boost::crc_32_type crc;
  crc.process_bytes(sheet.data(), sheet.size());
  return fmt::format("{:08x} {}", crc.checksum(), sheet.size());
}

OrError<Carried> carried_of(LedgerStore& store, const Past& past, const OpenShop& open,
                            std::int64_t now_ms) {
  auto kept = KeptFalls::open(store, key_of(open.text));
  if (!kept) return carry_forward(open.shop, open.overlay, past.events, now_ms);
  Carried carried = carry_forward(open.shop, open.overlay, past.events, now_ms,
                                  kept->source(open.shop, open.overlay));
  // Kept for speed only: a full disk is told where something is recorded, not here.
  static_cast<void>(kept->keep());
  return carried;
}

ShopState state_from(const Remembered& remembered, const OpenShop& open) {
  ShopState state = chipfall::state_of(open.shop, remembered.carried);
  for (size_t b = 0; b < state.bins.size(); ++b) {
    const BinOutlook& outlook = remembered.bins[b];
    state.bins[b] = chipfall::state_of(outlook, remembered.carried.filter_fine_g[b]);
  }
  state.out_of_order = remembered.past.out_of_order;
  state.finished = remembered.past.finished;
  return state;
}

std::vector<LayerNow> layers_of(const Carried& carried) {
  std::vector<LayerNow> layers;
  for (const CarriedZone& zone : carried.zones) {
    layers.push_back({zone.zone, zone.area_m2, zone.lying_g, zone.weekly_g});
  }
  return layers;
}

std::vector<MachineOut> machines_out(const std::vector<MachineNotice>& notices, const Shop& shop,
                                     const DayOf& days) {
  std::vector<MachineOut> out;
  for (const MachineNotice& notice : notices) {
    const Index machine = index_of(shop.machines, notice.machine);
    if (machine == kNone) continue;
    out.push_back({machine, days(notice.told.at_ms), notice.reason, !notice.unseen_backs.empty()});
  }
  return out;
}

}  // namespace

DayOf day_of(const ShopClock& clock) {
  struct Day {
    std::int64_t begins_ms = 0;
    std::int64_t ends_ms = 0;
    double number = 0;
  };
  // Thousands of events lie on hundreds of days: each day is looked up once.
  const auto days = std::make_shared<std::map<std::int64_t, Day>>();
  return [clock, days](std::int64_t at_ms) {
    constexpr int kMidnight = 0;
    constexpr std::int64_t kDay_ms = 24LL * 60 * 60 * 1000;
    auto next = days->upper_bound(at_ms);
    if (next == days->begin() || at_ms >= std::prev(next)->second.ends_ms) {
      Day day;
      day.begins_ms = clock.latest_ms(kMidnight, at_ms);
      day.ends_ms = clock.nearest_ms(kMidnight, day.begins_ms + kDay_ms);
      day.number = static_cast<double>(clock.day_number(at_ms));
      next = std::next(days->insert_or_assign(day.begins_ms, day).first);
    }
    const Day& day = std::prev(next)->second;
    const double length_ms =
        static_cast<double>(std::max<std::int64_t>(1, day.ends_ms - day.begins_ms));
    return day.number +
           std::clamp(static_cast<double>(at_ms - day.begins_ms) / length_ms, 0.0, 1.0);
  };
}

OrError<Remembered> remember(LedgerStore& store, Views& views, const OpenShop& open,
                             std::int64_t now_ms, std::optional<Past> read_already) {
  Remembered out;
  auto past = read_already ? OrError<Past>(*std::move(read_already)) : past_of(views, open.shop);
  if (!past) return tl::unexpected(past.error());
  out.past = *std::move(past);
  auto carried = carried_of(store, out.past, open, now_ms);
  if (!carried) return tl::unexpected(carried.error());
  out.carried = *std::move(carried);
  auto pending = pending_of(views, now_ms);
  if (!pending) return tl::unexpected(pending.error());
  out.pending = *std::move(pending);

  const DayOf days = day_of(open.clock);
  out.now_day = days(now_ms);
  out.now_ms = now_ms;
  ShopPast shop_past{out.carried.sessions, out.past.cleanings, out.past.bin_facts};
  std::erase_if(shop_past.cleanings, [&](const PastCleaning& c) { return c.at_ms > now_ms; });
  std::erase_if(shop_past.facts, [&](const PastBinFact& fact) { return fact.at_ms > now_ms; });
  out.bin_pasts = bin_pasts(open.shop, shop_past, days);
  out.bins = bin_outlooks(open.shop, out.bin_pasts, out.now_day);
  out.state = state_from(out, open);
  return out;
}

std::vector<PendingDuty> waiting_for_members(const std::vector<PendingDuty>& pending) {
  std::vector<PendingDuty> waiting;
  for (const PendingDuty& duty : pending) {
    if (duty.passed_on || duty.age_minutes > kStillCleaning_minutes) waiting.push_back(duty);
  }
  return waiting;
}

OrError<LockUpTonight> tonight_of(const Remembered& remembered, Views& views, const Shop& shop) {
  constexpr auto kTonight_ms = static_cast<std::int64_t>(kTonight_hours * 60 * 60 * 1000);
  LockUpTonight tonight;
  const auto sessions = views.sessions(remembered.now_ms - kTonight_ms);
  if (!sessions) return tl::unexpected(sessions.error());
  for (const SessionFact& fact : *sessions) {
    if (fact.told.at_ms > remembered.now_ms) continue;
    const proto::Session& session = fact.ended.session();
    tonight.oily_rags = tonight.oily_rags || session.oily_rags();
    for (const std::string& id : session.gates_left_open()) {
      const Index gate = index_of(shop.gates, id);
      const bool known = std::ranges::count(tonight.gates_left_open, gate) > 0;
      if (gate != kNone && !known) tonight.gates_left_open.push_back(gate);
    }
    for (const proto::Use& use : session.uses()) {
      const Index machine = index_of(shop.machines, use.machine());
      if (machine == kNone) continue;
      tonight.sparks = tonight.sparks || shop.machines[static_cast<size_t>(machine)].kind.sparks;
    }
  }
  return tonight;
}

OrError<CoordinatorView> coordinator_view(const Remembered& remembered, Views& views,
                                          const OpenShop& open,
                                          std::optional<int> next_round_days) {
  const Shop& shop = open.shop;
  const DayOf days = day_of(open.clock);
  CoordinatorView view;
  view.now_day = remembered.now_day;
  view.next_round_days = next_round_days;
  view.bins = remembered.bins;
  view.bin_notes = remembered.bin_pasts.notes;
  view.supplies =
      supplies_left(shop, remembered.past.supplies, remembered.bin_pasts, days, remembered.now_day);
  RoundAsk ask;
  ask.next_round_days = next_round_days;
  ask.supplies_left.resize(shop.supplies.size());
  for (const SupplyStock& stock : view.supplies) {
    ask.supplies_left[static_cast<size_t>(stock.supply)] = stock.left;
  }
  view.round = plan_round(shop, remembered.bins, ask, remembered.now_day);
  const auto out = views.machines_out();
  if (!out) return tl::unexpected(out.error());
  view.machines_out = machines_out(*out, shop, days);
  view.layers = layer_notices(shop, layers_of(remembered.carried), remembered.now_day);
  std::vector<TimedDuty> timed;
  for (size_t i = 0; i < remembered.past.finished.size(); ++i) {
    const FinishedDuty& duty = remembered.past.finished[i];
    timed.push_back({days(remembered.past.finished_ms[i]), duty.kind, duty.estimated_minutes,
                     duty.actual_minutes});
  }
  view.estimates = estimates_held(timed, remembered.now_day);
  constexpr auto kBehind_ms = static_cast<std::int64_t>(kBehind_days * 24 * 60 * 60 * 1000);
  const auto endings = zone_endings(views, shop, remembered.now_ms - kBehind_ms, days);
  if (!endings) return tl::unexpected(endings.error());
  view.behind = fallen_behind(shop, *endings, remembered.now_day);
  return view;
}

}  // namespace chipfall
