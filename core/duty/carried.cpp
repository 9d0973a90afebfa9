#include "core/duty/carried.h"

#include <algorithm>
#include <cmath>
#include <tuple>

#include "core/dust/layer.h"
#include "core/duty/learn.h"
#include "core/duty/minutes.h"
#include "core/duty/rules.h"
#include "core/duty/zones.h"

namespace chipfall {
namespace {

constexpr double kDay_ms = 24.0 * 60 * 60 * 1000;
constexpr double kWeek_days = 7;
/// A zone's own factor before anybody said a word about it, as a normal of its log [c.p.].
constexpr double kRateSd = 0.35;
/// How far one remark lies from the truth, in its log [c.p.].
constexpr double kRemarkSd = 0.7;

std::vector<PastEvent> in_time_order(std::vector<PastEvent> past, std::int64_t until_ms) {
  std::erase_if(past, [&](const PastEvent& event) { return event.at_ms > until_ms; });
  std::ranges::stable_sort(past, {}, [](const PastEvent& event) {
    return std::tie(event.at_ms, event.kind, event.id, event.what);
  });
  const auto twice = [](const PastEvent& a, const PastEvent& b) {
    return !a.id.empty() && a.id == b.id && a.kind == b.kind && a.what == b.what;
  };
  past.erase(std::unique(past.begin(), past.end(), twice), past.end());
  return past;
}

/// Going through the past, event by event.
class Walk {
 public:
  Walk(const Shop& shop, const Overlay& overlay, const FallSource& fall)
      : shop_(shop),
        overlay_(overlay),
        fall_(fall),
        remarks_(shop.zones.size() + 1),
        cleaned_ms_(shop.zones.size() + 1) {
    carried_.bin_fill.assign(shop.bins.size(), 0);
    carried_.filter_fine_g.assign(shop.bins.size(), 0);
    for (size_t z = 0; z < shop.zones.size(); ++z) {
      CarriedZone zone;
      zone.zone = static_cast<Index>(z);
      zone.area_m2 = signed_area_m2(shop.zones[z].corners);
      carried_.zones.push_back(zone);
    }
    CarriedZone open;
    open.area_m2 = std::max(0.0, area_m2(overlay.open_floor));
    carried_.zones.push_back(open);
    for (Normal& remark : remarks_) remark = {0, kRateSd * kRateSd};
  }

  void take(const PastEvent& event);
  Carried finished(std::int64_t until_ms);

 private:
  CarriedZone& zone(Index index) {
    return index == kNone ? carried_.zones.back() : carried_.zones[static_cast<size_t>(index)];
  }
  size_t index_in_list(const CarriedZone& zone) const {
    return static_cast<size_t>(&zone - carried_.zones.data());
  }
  void take_session(const PastEvent& event);
  void take_remark(const PastEvent& event);
  void take_common_dust(const PastEvent& event);
  SessionFall worked_out(const PastEvent& event, const ShopState& found) const;
  PerClass brought_g(const SessionFall& fall, size_t z) const;
  bool stays_thin(size_t z, const PerClass& weekly_g, double from_ms, double weeks) const;

  const Shop& shop_;
  const Overlay& overlay_;
  const FallSource& fall_;
  Carried carried_;
  std::vector<Normal> remarks_;  ///< ln of each zone's rate factor
  std::vector<std::vector<double>> cleaned_ms_;
  std::vector<SessionFall> falls_;  ///< parallel to Carried::sessions
};

SessionFall Walk::worked_out(const PastEvent& event, const ShopState& found) const {
  return fall_ ? fall_(event, found)
               : fall_of(shop_, event.session, dust_of(shop_, overlay_, found, event.session));
}

void Walk::take_session(const PastEvent& event) {
  SessionFall fall = worked_out(event, state_of(shop_, carried_));
  for (size_t z = 0; z < carried_.zones.size(); ++z) {
    CarriedZone& zone = carried_.zones[z];
    zone.lying_g = zone.lying_g + brought_g(fall, z);
  }
  for (size_t b = 0; b < shop_.bins.size(); ++b) {
    carried_.bin_fill[b] += fall.for_bins.bins[b].caught_m3 / shop_.bins[b].volume_m3;
    carried_.filter_fine_g[b] += fall.for_bins.bins[b].caught_fine_g;
  }
  PastSession& past = carried_.sessions.emplace_back(fall.for_bins);
  past.id = event.id;
  past.end_ms = event.at_ms;
  past.lying_g.clear();
  for (size_t z = 0; z < shop_.zones.size(); ++z) past.lying_g.push_back(carried_.zones[z].lying_g);
  past.open_floor_g = carried_.zones.back().lying_g;
  falls_.push_back(std::move(fall));
}

void Walk::take_remark(const PastEvent& event) {
  CarriedZone& seen = zone(event.what);
  const double factor = event.dirtier ? kSeenFactor : 1 / kSeenFactor;
  seen.lying_g = factor * seen.lying_g;
  Normal& remark = remarks_[index_in_list(seen)];
  // Relative to what was expected then, which had the factor learned so far in it.
  remark = update(remark, remark.mean + std::log(factor), kRemarkSd * kRemarkSd);
  seen.rate_factor = std::exp(remark.mean);
}

void Walk::take_common_dust(const PastEvent& event) {
  CarriedZone& cleaned = zone(event.what);
  double& fine_g = cleaned.lying_g[kFine];
  fine_g = std::max(0.0, fine_g - kCommonFine_g_per_min * std::max(0.0, event.minutes));
}

void Walk::take(const PastEvent& event) {
  using Kind = PastEvent::Kind;
  switch (event.kind) {
    case Kind::kSession:
      return take_session(event);
    case Kind::kZoneSeen:
      return take_remark(event);
    case Kind::kCommonDust:
      return take_common_dust(event);
    case Kind::kZoneCleaned: {
      CarriedZone& cleaned = zone(event.what);
      cleaned.lying_g = after_cleaning(shop_, event.what, cleaned.area_m2, cleaned.lying_g);
      cleaned.cleaned_ms = event.at_ms;
      cleaned_ms_[index_in_list(cleaned)].push_back(static_cast<double>(event.at_ms));
      return;
    }
    case Kind::kBinSeen:
      carried_.bin_fill[static_cast<size_t>(event.what)] = event.fill;
      return;
    case Kind::kFilterCleaned: {
      const std::vector<Index>& chain = shop_.collectors[static_cast<size_t>(event.what)].chain;
      if (!chain.empty()) carried_.filter_fine_g[static_cast<size_t>(chain.back())] = 0;
      return;
    }
  }
}

PerClass Walk::brought_g(const SessionFall& fall, size_t z) const {
  const bool open = z == shop_.zones.size();
  PerClass grams = open ? fall.open_floor : fall.zones[z];
  grams[kFine] += open ? fall.open_settling_g : fall.settling_g[z];
  return carried_.zones[z].rate_factor * grams;
}

bool Walk::stays_thin(size_t z, const PerClass& weekly_g, double from_ms, double weeks) const {
  const auto cleanings =
      std::ranges::count_if(cleaned_ms_[z], [&](double at_ms) { return at_ms >= from_ms; });
  if (cleanings < kRegularCleanings) return false;
  const double between_weeks = weeks / static_cast<double>(cleanings);
  const double watched = kWatchedShareOfLimit * layer_limit_g_per_m2();
  return limited_g(weekly_g) * between_weeks < watched * carried_.zones[z].area_m2;
}

Carried Walk::finished(std::int64_t until_ms) {
  if (carried_.sessions.empty()) return std::move(carried_);
  const double first_ms = static_cast<double>(carried_.sessions.front().end_ms);
  const double from_ms = std::max(first_ms, static_cast<double>(until_ms) - kRate_days * kDay_ms);
  // A shop that is a day old is not judged by that day: at least a week.
  const double weeks =
      std::max(1.0, (static_cast<double>(until_ms) - from_ms) / (kWeek_days * kDay_ms));
  for (size_t z = 0; z < carried_.zones.size(); ++z) {
    PerClass grams{};
    for (size_t i = 0; i < falls_.size(); ++i) {
      const double at_ms = static_cast<double>(carried_.sessions[i].end_ms);
      if (at_ms >= from_ms) grams = grams + brought_g(falls_[i], z);
    }
    const PerClass weekly_g = (1 / weeks) * grams;
    if (!stays_thin(z, weekly_g, from_ms, weeks)) carried_.zones[z].weekly_g = weekly_g;
  }
  return std::move(carried_);
}

}  // namespace

SessionFall fall_of(const Shop& shop, const Session& session, const SessionDust& dust) {
  SessionFall fall;
  for (const ZoneDust& zone : dust.zones) {
    fall.zones.push_back(zone.fallen_g);
    fall.settling_g.push_back(zone.settling_g);
  }
  fall.open_floor = dust.open_floor.fallen_g;
  fall.open_settling_g = dust.open_floor.settling_g;
  fall.for_bins = past_session(shop, session, dust, {}, 0);
  fall.for_bins.lying_g.clear();
  fall.for_bins.open_floor_g = {};
  return fall;
}

PerClass after_cleaning(const Shop& shop, Index zone, double area_m2, const PerClass& lying_g) {
  if (area_m2 <= 0) return lying_g;
  const Surface surface = surface_of(shop, zone);
  const CleaningMethod method =
      method_for(shop, tool_for(shop, surface, place_of(shop, zone)), surface);
  const double target = zone == kNone ? shop.policy.clean_g_per_m2
                                      : shop.zones[static_cast<size_t>(zone)].clean_g_per_m2;
  const double gone_over = passes(sum(lying_g) / area_m2, target, method.pickup_share);
  const double left = std::pow(1 - method.pickup_share, gone_over);
  const bool floor =
      zone == kNone || shop.zones[static_cast<size_t>(zone)].kind == ZoneKind::kFloor;
  return (1 - (floor ? kFloorShareCleaned : 1) * (1 - left)) * lying_g;
}

Carried carry_forward(const Shop& shop, const Overlay& overlay, std::vector<PastEvent> past,
                      std::int64_t until_ms, const FallSource& fall) {
  Walk walk(shop, overlay, fall);
  for (const PastEvent& event : in_time_order(std::move(past), until_ms)) walk.take(event);
  return walk.finished(until_ms);
}

ShopState state_of(const Shop& shop, const Carried& carried) {
  ShopState state = clean_state(shop);
  for (size_t z = 0; z < shop.zones.size(); ++z) state.zones[z] = carried.zones[z].lying_g;
  state.open_floor = carried.zones.back().lying_g;
  for (size_t b = 0; b < shop.bins.size(); ++b) {
    state.bins[b].fill_share = carried.bin_fill[b];
    state.bins[b].filter_fine_g = carried.filter_fine_g[b];
  }
  return state;
}

}  // namespace chipfall
