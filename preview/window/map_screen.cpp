#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/duty/say.h"
#include "core/shop/words.h"
#include "preview/terminal/ramp.h"
#include "preview/window/dust_plan.h"
#include "preview/window/screens.h"

namespace chipfall::window {
namespace {

constexpr std::size_t kNumbered = 9;

Units units_of(const proto::DustMap& map) {
  return parse<Units>(map.answer().units()).value_or(Units::kMetric);
}

/// Those where most fell, named zones only.
std::vector<const proto::ZoneDust*> heaviest(const proto::DustMap& map) {
  std::vector<const proto::ZoneDust*> zones;
  for (const proto::ZoneDust& zone : map.answer().zones()) {
    if (!zone.id().empty() && zone.fallen_g() > 0.05) zones.push_back(&zone);
  }
  std::ranges::stable_sort(zones, std::greater<>(),
                           [](const proto::ZoneDust* zone) { return zone->fallen_g(); });
  if (zones.size() > kNumbered) zones.resize(kNumbered);
  return zones;
}

/// Minutes after the tools went down; between two points of the answer's curve, a straight line.
double still_up(const proto::AirAnswer& air, double after) {
  const auto& times = air.curve_minutes();
  const auto& dust = air.curve_mg_per_m3();
  const int count = std::min(times.size(), dust.size());
  // The curve begins with the session and ends where the air is clear again.
  const double minute = (count > 0 ? times[count - 1] - air.clearance_minutes() : 0) + after;
  for (int i = 1; i < count; ++i) {
    if (times[i] < minute) continue;
    const double span = times[i] - times[i - 1];
    const double share = span > 0 ? (minute - times[i - 1]) / span : 0;
    return dust[i - 1] + share * (dust[i] - dust[i - 1]);
  }
  return count > 0 ? dust[count - 1] : 0;
}

void legend_part(Pen& pen, Units units) {
  pen.text(fmt::format("Shade: what lies there, {}", ramp_unit(units)), Face::kSmall, kSoftInk);
  const auto bound = [&](int step) { return step == 0 ? "0" : ramp_bound(step, units); };
  float widest = 1;
  for (int step = 0; step < kRampSteps; ++step) {
    widest = std::max(widest, pen.wide(bound(step), Face::kSmall) + 6);
  }
  // Large text needs several rows.
  const int in_row = std::clamp(static_cast<int>(pen.width() / widest), 1, kRampSteps);
  const float each = pen.width() / static_cast<float>(in_row);
  const float high = pen.line_px(Face::kSmall) + 4;
  const float top = pen.y() + 3;
  for (int step = 0; step < kRampSteps; ++step) {
    const Ink ink = kRamp[static_cast<std::size_t>(step)];
    const auto byte = [](double share) { return static_cast<Rgb>(std::lround(255 * share)); };
    const Rgb ground = byte(ink.red) << 16U | byte(ink.green) << 8U | byte(ink.blue);
    const float x = pen.left() + static_cast<float>(step % in_row) * each;
    const float y = top + static_cast<float>(step / in_row) * high;
    pen.fill({x, y, x + each, y + high}, ground, 0);
    const Rgb on = contrast_of(kInk, ground) > contrast_of(kPale, ground) ? kInk : kPale;
    pen.words_at(x + (each - pen.wide(bound(step), Face::kSmall)) / 2, y + 2, bound(step),
                 Face::kSmall, on, ground);
  }
  const int rows = (kRampSteps + in_row - 1) / in_row;
  pen.gap(high * static_cast<float>(rows) + 8);
  pen.text(
      "Hatched: on the list. Ring: nearly all that the machine threw fell inside. Arrow: "
      "where it throws.",
      Face::kSmall, kSoftInk);
}

void air_part(Pen& pen, Phone& phone) {
  const proto::AirAnswer& air = phone.member.map->answer().air();
  if (air.curve_minutes_size() < 2) return;
  MemberState& member = phone.member;
  const double end = std::max(air.clearance_minutes(), 1.0);
  const double minute = member.air_share * end;
  pen.card();
  pen.text("Fine dust in the air", Face::kBold);
  pen.text(
      minute < 0.5
          ? fmt::format("As you stop: {:.2g} mg/m\u00b3", air.concentration_mg_per_m3())
          : fmt::format("{} later: {:.2g} mg/m\u00b3", say_minutes(minute), still_up(air, minute)));
  const auto moved = pen.slider("map/time", "Minutes since you stopped", member.air_share);
  if (moved) member.air_share = *moved;
  const std::string mask = minute <= air.mask_minutes()
                               ? "Keep the mask on at this time."
                               : "The mask may come off by now, unless you stir dust up.";
  if (air.mask_minutes() > 0) pen.text(mask, Face::kBold);
  pen.text(fmt::format("Clear, but for one part in a hundred, after {}.",
                       say_minutes(air.clearance_minutes())),
           Face::kSmall, kSoftInk);
  if (air.timer_minutes() > 0) {
    pen.text(fmt::format("Set the ceiling filters to {}.", say_minutes(air.timer_minutes())),
             Face::kSmall, kSoftInk);
  }
  pen.card_end();
}

void zone_part(Pen& pen, const proto::DustMap& map, const std::string& chosen) {
  for (const proto::ZoneDust& zone : map.answer().zones()) {
    if (zone.id() != chosen || chosen.empty()) continue;
    const Units units = units_of(map);
    pen.card(kSanded, kWalnut);
    pen.text(zone.name(), Face::kBold);
    pen.text(fmt::format("{} fell here, {} lay here before; now {}.",
                         say_mass(zone.fallen_g(), units), say_mass(zone.before_g(), units),
                         say_load(zone.load_g_per_m2(), units)));
    pen.text(fmt::format("A layer of {}; the housekeeping limit is {}.",
                         say_depth(zone.layer_mm(), units), say_depth(zone.limit_mm(), units)),
             Face::kSmall, kSoftInk);
    pen.card_end();
  }
}

void machines_part(Pen& pen, const proto::DustMap& map) {
  const Units units = units_of(map);
  if (map.answer().uses().empty()) return;
  pen.heading("What threw it");
  for (const proto::UseDust& use : map.answer().uses()) {
    pen.bullet(fmt::format("{}: {} made, {} caught{}; clean out to {}", use.name(),
                           say_mass(use.removed_g(), units), say_mass(use.captured_g(), units),
                           use.extraction() ? "" : " (no extraction)",
                           say_length(use.clean_out_m(), units)));
    pen.gap(4);
  }
}

}  // namespace

void map_screen(Pen& pen, Phone& phone) {
  MemberState& member = phone.member;
  if (pen.head("Where it fell", "map/back")) return phone.back();
  pen.body(phone.scrolls[Screen::kMap]);
  trouble_part(pen, phone);
  if (!member.map) {
    pen.text(waiting_words(phone));
    return pen.foot();
  }
  const proto::DustMap& map = *member.map;
  const auto zones = heaviest(map);
  PlanLook look;
  look.chosen = member.zone;
  for (const proto::ZoneDust* zone : zones) look.numbered.push_back(zone->id());
  const proto::AirAnswer& air = map.answer().air();
  const double start = air.concentration_mg_per_m3();
  const double now = still_up(air, member.air_share * std::max(air.clearance_minutes(), 1.0));
  look.air_share = start > 0 ? static_cast<float>(std::clamp(now / start, 0.0, 1.0)) : 0;
  const float high = std::max(kTargetUsual, plan_height(map, pen.width()));
  const Rect at{pen.left(), pen.y(), pen.right(), pen.y() + high};
  if (pen.tap("map/plan", at, "The room")) {
    member.zone = zone_under(map, at, pen.hands().x, pen.hands().y);
  }
  draw_plan(pen, map, at, look, "map/plan");
  pen.gap(high + 8);
  zone_part(pen, map, member.zone);
  air_part(pen, phone);
  pen.heading("Most fell here");
  const Units units = units_of(map);
  int number = 0;
  for (const proto::ZoneDust* zone : zones) {
    ++number;
    if (pen.row("map/zone/" + zone->id(), fmt::format("{}. {}", number, zone->name()),
                fmt::format("{} fell, {} lies there", say_mass(zone->fallen_g(), units),
                            say_load(zone->load_g_per_m2(), units)),
                Icon::kNone, zone->id() == member.zone)) {
      member.zone = zone->id();
      phone.scrolls[Screen::kMap].offset = 0;
    }
  }
  legend_part(pen, units);
  machines_part(pen, map);
  pen.gap();
  pen.text("Estimates from what was run, not measurements.", Face::kSmall, kSoftInk);
  pen.foot();
}

}  // namespace chipfall::window
