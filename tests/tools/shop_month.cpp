#include "tests/tools/shop_month.h"

#include <algorithm>
#include <cmath>
#include <random>

#include <fmt/format.h>

#include "core/dust/removal.h"
#include "core/duty/wind_down.h"
#include "core/duty/zones.h"

namespace chipfall {
namespace {

constexpr double kMsPerDay = 86'400'000;

double day_of_utc(std::int64_t at_ms) { return static_cast<double>(at_ms) / kMsPerDay; }
std::int64_t ms_of(double day) { return static_cast<std::int64_t>(day * kMsPerDay); }

/// Draws from a seed with plain arithmetic, the same with every standard library.
class Draws {
 public:
  explicit Draws(unsigned seed) : engine_(seed) {}
  double between(double low, double high) {
    return low + (high - low) * (static_cast<double>(engine_() >> 8) * 0x1p-24);
  }
  bool chance(double of) { return between(0, 1) < of; }
  int upto(int most) { return std::min(most, static_cast<int>(between(0, most + 1))); }
  double normal() {
    const double radius = std::sqrt(-2 * std::log(1 - between(0, 1)));
    return radius * std::cos(2 * M_PI * between(0, 1));
  }
  double about_1(double spread) { return std::exp(spread * normal() - spread * spread / 2); }

 private:
  std::mt19937 engine_;
};

/// How likely a session is on each weekday, Monday first: closed on Mondays, busy at the weekend.
constexpr double kBusy[] = {0, 0.7, 0.5, 0.9, 0.6, 1, 0.5};

class Life {
 public:
  Life(const Shop& shop, const std::vector<Session>& sessions, const MonthAsk& ask)
      : shop_(shop), sessions_(sessions), ask_(ask), overlay_(overlay_of(shop)), draws_(ask.seed) {
    month_.true_fill.resize(shop.bins.size());
    month_.true_rate.resize(shop.bins.size());
    for (size_t b = 0; b < shop.bins.size(); ++b) {
      month_.true_fill[b] = draws_.between(0, 0.6);
      month_.true_rate[b] = draws_.about_1(ask.log_rate_sd);
    }
    lying_.resize(shop.zones.size() + 1);
  }

  ShopMonth run() {
    stock_up();
    for (int day = ask_.first_day; day < ask_.first_day + ask_.days; ++day) {
      // Day 4 was a Monday.
      const int weekday = (day - 4) % 7;
      if (draws_.chance(kBusy[weekday])) session_on(day + 0.85);
      if (weekday == 5) session_on(day + 0.5);
    }
    month_.now_day = ask_.first_day + ask_.days + 0.5;
    settle();
    return std::move(month_);
  }

 private:
  std::string next_id() { return fmt::format("entry-{}", ++entries_); }

  void stock_up() {
    for (const Supply& supply : shop_.supplies) {
      month_.supplies.push_back(
          {next_id(), ms_of(ask_.first_day), supply.id, false, supply.low_at + draws_.upto(3)});
    }
  }

  void fill(Index bin, double share) {
    double& truth = month_.true_fill[bin];
    truth =
        std::min(kMostFill, truth + share * month_.true_rate[bin] * draws_.about_1(kPushSpread));
  }

  void session_on(double day) {
    const Session& session = sessions_[draws_.upto(static_cast<int>(sessions_.size()) - 1)];
    const WindDown list = wind_down(shop_, overlay_, clean_state(shop_), session);
    PastSession past = past_session(shop_, session, list.dust, next_id(), ms_of(day));
    for (size_t b = 0; b < shop_.bins.size(); ++b) {
      const double m3 = past.bins[b].caught_m3 + past.scraps_m3[b];
      if (m3 > 0) fill(static_cast<Index>(b), m3 / shop_.bins[b].volume_m3);
    }
    for (size_t z = 0; z < shop_.zones.size(); ++z) {
      lying_[z] = lying_[z] + past.lying_g[z];
    }
    lying_.back() = lying_.back() + past.open_floor_g;
    month_.past.sessions.push_back(past);
    for (const Duty& duty : list.duties) end_duty(duty, day, past);
    for (size_t b = 0; b < shop_.bins.size(); ++b) {
      const bool used = past.bins[b].caught_m3 > 0 || past.scraps_m3[b] > 0;
      if (used && draws_.chance(0.35)) look_into(static_cast<Index>(b), day + 0.02);
    }
  }

  void end_duty(const Duty& duty, double day, const PastSession& session) {
    const bool high = duty.phase == Phase::kHigh;
    const bool done = draws_.chance(high ? 0.3 : 0.9);
    if (duty.kind == DutyKind::kZone) {
      month_.endings.push_back({duty.zone, day, !done});
    }
    if (!done) return;
    if (draws_.chance(0.5)) {
      month_.timed.push_back(
          {day, duty.kind, duty.minutes, duty.minutes * draws_.about_1(0.3) * 1.2});
    }
    if (duty.kind != DutyKind::kZone) return;
    month_.past.cleanings.push_back(
        {next_id(), ms_of(day + 0.01), duty.zone, duty.tool, session.id});
    PerClass& lying = lying_[duty.zone == kNone ? shop_.zones.size() : duty.zone];
    const double share = method_for(shop_, duty.tool, surface_of(shop_, duty.zone)).pickup_share;
    if (duty.tool != kNone && shop_.tools[duty.tool].collector != kNone) {
      const Collector& vac = shop_.collectors[shop_.tools[duty.tool].collector];
      const Chain chain = follow_chain(shop_, vac, share * session_lying(session, duty.zone));
      for (size_t i = 0; i < vac.chain.size(); ++i) {
        const double m3 = loose_volume_m3(chain.kept_g[i], session.solid_kg_per_m3);
        fill(vac.chain[i], m3 / shop_.bins[vac.chain[i]].volume_m3);
      }
    }
    lying = (1 - share) * lying;
  }

  const PerClass& session_lying(const PastSession& session, Index zone) const {
    return zone == kNone ? session.open_floor_g : session.lying_g[zone];
  }

  void look_into(Index bin, double day) {
    const double truth = month_.true_fill[bin];
    const double pick = draws_.between(0, 1);
    const double room = chance_of(Sighting::kRoom, truth);
    const bool half = pick < room + chance_of(Sighting::kHalf, truth);
    const std::string seen = pick < room ? "room" : half ? "half" : "full";
    month_.past.facts.push_back({next_id(), ms_of(day), shop_.bins[bin].id, false, false, seen});
    if (seen != "full" || !draws_.chance(ask_.emptied_when_full)) return;
    month_.past.facts.push_back(
        {next_id(), ms_of(day + 0.01), shop_.bins[bin].id, true, shop_.bins[bin].bag != kNone, ""});
    month_.true_fill[bin] = 0;
  }

  void settle() {
    for (size_t z = 0; z <= shop_.zones.size(); ++z) {
      LayerNow& layer = month_.layers.emplace_back();
      layer.zone = z < shop_.zones.size() ? static_cast<Index>(z) : kNone;
      layer.area_m2 = layer.zone == kNone ? area_m2(overlay_.open_floor)
                                          : signed_area_m2(shop_.zones[z].corners);
      layer.lying_g = lying_[z];
      layer.weekly_g = (7.0 / ask_.days) * lying_[z];
    }
  }

  const Shop& shop_;
  const std::vector<Session>& sessions_;
  MonthAsk ask_;
  Overlay overlay_;
  Draws draws_;
  ShopMonth month_;
  std::vector<PerClass> lying_;  ///< parallel to Shop::zones, then the open floor
  int entries_ = 0;
};

}  // namespace

ShopMonth simulated_month(const Shop& shop, const std::vector<Session>& sessions,
                          const MonthAsk& ask) {
  return Life(shop, sessions, ask).run();
}

CoordinatorView view_of(const Shop& shop, const ShopMonth& month) {
  CoordinatorView view;
  const BinPasts pasts = bin_pasts(shop, month.past, day_of_utc);
  view.now_day = month.now_day;
  view.bins = bin_outlooks(shop, pasts, month.now_day);
  view.bin_notes = pasts.notes;
  view.supplies = supplies_left(shop, month.supplies, pasts, day_of_utc, month.now_day);
  view.next_round_days = 7;
  RoundAsk ask;
  ask.next_round_days = view.next_round_days;
  ask.supplies_left.resize(shop.supplies.size());
  for (const SupplyStock& stock : view.supplies) ask.supplies_left[stock.supply] = stock.left;
  view.round = plan_round(shop, view.bins, ask, month.now_day);
  view.layers = layer_notices(shop, month.layers, month.now_day);
  view.estimates = estimates_held(month.timed, month.now_day);
  view.behind = fallen_behind(shop, month.endings, month.now_day);
  return view;
}

}  // namespace chipfall
