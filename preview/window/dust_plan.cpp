#include "preview/window/dust_plan.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <set>

#include "core/shop/words.h"
#include "preview/terminal/ramp.h"

namespace chipfall::window {
namespace {

constexpr float kWall_px = 3;
constexpr int kMostMotes = 260;

Rgb rgb_of(Ink ink) {
  const auto byte = [](double share) { return static_cast<unsigned>(std::lround(255 * share)); };
  return byte(ink.red) << 16U | byte(ink.green) << 8U | byte(ink.blue);
}

Polygon polygon_of(const google::protobuf::RepeatedField<double>& corners_m) {
  Polygon polygon;
  for (int i = 0; i + 1 < corners_m.size(); i += 2)
    polygon.push_back({corners_m[i], corners_m[i + 1]});
  return tidy(std::move(polygon));
}

/// From metres to the screen.
struct Scale {
  double px_per_m = 0;
  Point low;
  double left = 0;
  double bottom = 0;
  ImVec2 operator()(Point at) const {
    return {static_cast<float>(left + px_per_m * (at.x - low.x)),
            static_cast<float>(bottom - px_per_m * (at.y - low.y))};
  }
  Point back(float x, float y) const {
    return {low.x + (x - left) / px_per_m, low.y + (bottom - y) / px_per_m};
  }
};

Scale scale_of(const Polygon& room, const Rect& at) {
  if (room.size() < 3) return {};
  const Box box = bounds(room);
  Scale scale;
  scale.px_per_m = std::min((at.width() - 2 * kWall_px) / (box.high.x - box.low.x),
                            (at.height() - 2 * kWall_px) / (box.high.y - box.low.y));
  scale.low = box.low;
  scale.left = at.left + (at.width() - scale.px_per_m * (box.high.x - box.low.x)) / 2;
  scale.bottom = at.top + (at.height() + scale.px_per_m * (box.high.y - box.low.y)) / 2;
  return scale;
}

void fill_polygon(ImDrawList& list, const Polygon& polygon, const Scale& scale, ImU32 colour) {
  const std::vector<Point> corners = triangles_of(polygon);
  // Without smoothed edges, else the seams between triangles shine through.
  const ImDrawListFlags before = list.Flags;
  list.Flags &= ~ImDrawListFlags_AntiAliasedFill;
  for (std::size_t i = 0; i + 2 < corners.size(); i += 3) {
    list.AddTriangleFilled(scale(corners[i]), scale(corners[i + 1]), scale(corners[i + 2]), colour);
  }
  list.Flags = before;
}

void outline(ImDrawList& list, const Polygon& polygon, const Scale& scale, ImU32 colour,
             float thick) {
  std::vector<ImVec2> points;
  for (Point corner : polygon) points.push_back(scale(corner));
  list.AddPolyline(points.data(), static_cast<int>(points.size()), colour, ImDrawFlags_Closed,
                   thick);
}

/// Slanted lines over a zone that the list asks to clean, so that shade alone carries no meaning.
void hatch(ImDrawList& list, const Polygon& polygon, const Scale& scale, ImU32 colour) {
  const Box box = bounds(polygon);
  const ImVec2 low = scale({box.low.x, box.high.y});
  const ImVec2 high = scale({box.high.x, box.low.y});
  constexpr float kApart_px = 7;
  constexpr float kStep_px = 1.5F;
  const float reach = high.y - low.y;
  for (float from = low.x - reach; from < high.x; from += kApart_px) {
    ImVec2 begun{};
    bool inside = false;
    for (float d = 0; d <= reach + kStep_px; d += kStep_px) {
      const ImVec2 at{from + d, high.y - d};
      const bool in = d <= reach && contains(polygon, scale.back(at.x, at.y));
      if (in && !inside) begun = at;
      if (!in && inside) list.AddLine(begun, at, colour, 1);
      inside = in;
    }
  }
}

const proto::ZoneDust* dust_of(const proto::DustMap& map, const std::string& zone) {
  for (const proto::ZoneDust& dust : map.answer().zones()) {
    if (dust.id() == zone) return &dust;
  }
  return nullptr;
}

Rgb shade_of(const proto::DustMap& map, const std::string& zone) {
  const Units units = parse<Units>(map.answer().units()).value_or(Units::kMetric);
  const proto::ZoneDust* dust = dust_of(map, zone);
  const double load = dust != nullptr ? dust->load_g_per_m2() : 0;
  return rgb_of(kRamp[static_cast<std::size_t>(ramp_step(load, units))]);
}

void dashed_ring(ImDrawList& list, ImVec2 centre, float radius, ImU32 colour, float thick) {
  const int dashes = std::clamp(static_cast<int>(radius * 0.55F), 8, 60);
  const float turn = 2 * std::numbers::pi_v<float> / static_cast<float>(dashes);
  for (int i = 0; i < dashes; ++i) {
    const float from = static_cast<float>(i) * turn;
    list.PathArcTo(centre, radius, from, from + 0.58F * turn, 6);
    list.PathStroke(colour, 0, thick);
  }
}

void draw_machine(ImDrawList& list, const proto::MapMachine& machine, const Scale& scale) {
  const ImVec2 at = scale({machine.x_m(), machine.y_m()});
  const ImU32 ink = colour_of(kInk);
  const ImU32 pale = colour_of(kCard);
  if (!machine.used()) {
    list.AddCircleFilled(at, 3.5F, pale);
    list.AddCircle(at, 3.5F, ink, 0, 1);
    return;
  }
  const auto angle = static_cast<float>(machine.heading_deg() * std::numbers::pi / 180);
  const ImVec2 way{std::cos(angle), -std::sin(angle)};
  const ImVec2 across{-way.y, way.x};
  const auto along = [&](float d, float side) {
    return ImVec2{at.x + d * way.x + side * across.x, at.y + d * way.y + side * across.y};
  };
  list.AddLine(at, along(17, 0), pale, 6);
  list.AddLine(at, along(14, 0), ink, 2.4F);
  list.AddTriangleFilled(along(21, 0), along(12, 5), along(12, -5), ink);
  list.AddCircleFilled(at, 7, pale);
  list.AddCircleFilled(at, 5.5F, ink);
}

void draw_rings(Pen& pen, const proto::DustMap& map, const Scale& scale, const Rect& at_most) {
  pen.list().PushClipRect({at_most.left, at_most.top}, {at_most.right, at_most.bottom}, true);
  for (const proto::MapMachine& machine : map.machines()) {
    const auto radius = static_cast<float>(machine.clean_out_m() * scale.px_per_m);
    if (!machine.used() || !(radius > 2)) continue;
    const ImVec2 at = scale({machine.x_m(), machine.y_m()});
    dashed_ring(pen.list(), at, radius, colour_of(kCard, 200), 3.4F);
    dashed_ring(pen.list(), at, radius, colour_of(kInk), 1.5F);
  }
  pen.list().PopClipRect();
}

/// Specks, as many as there is left in the air; always at the same places, so that they go one by
/// one as the slider moves.
void draw_motes(Pen& pen, const Polygon& room, const Scale& scale, float share) {
  const Box box = bounds(room);
  const int motes = static_cast<int>(std::lround(share * kMostMotes));
  double u = 0.5;
  double v = 0.5;
  for (int i = 0; i < motes; ++i) {
    u = std::fmod(u + 0.7548776662466927, 1.0);  // R2 sequence: even, never in rows
    v = std::fmod(v + 0.5698402909980532, 1.0);
    const Point at{box.low.x + u * (box.high.x - box.low.x),
                   box.low.y + v * (box.high.y - box.low.y)};
    if (!contains(room, at)) continue;
    pen.list().AddCircleFilled(scale(at), 2.2F, colour_of(kCard, 230), 8);
    pen.list().AddCircleFilled(scale(at), 1.4F, colour_of(kInk, 220), 8);
  }
}

/// Marks of used machines, which no number may cover: the dot and the arrow.
std::vector<Rect> marks_of(const proto::DustMap& map, const Scale& scale) {
  std::vector<Rect> marks;
  for (const proto::MapMachine& machine : map.machines()) {
    if (!machine.used()) continue;
    const ImVec2 at = scale({machine.x_m(), machine.y_m()});
    const auto angle = static_cast<float>(machine.heading_deg() * std::numbers::pi / 180);
    const ImVec2 tip{at.x + 21 * std::cos(angle), at.y - 21 * std::sin(angle)};
    marks.push_back({std::min(at.x, tip.x) - 6, std::min(at.y, tip.y) - 6,
                     std::max(at.x, tip.x) + 6, std::max(at.y, tip.y) + 6});
  }
  return marks;
}

/// Where a plate of this half width is free, in the zone or as near to it as may be.
std::optional<Rect> free_place(const Polygon& zone, const Scale& scale, float half,
                               const std::vector<Rect>& taken, const Rect& frame) {
  const Box box = bounds(zone);
  const Point middle = centroid(zone);
  std::optional<Rect> best;
  double best_away = 1e18;
  constexpr int kSteps = 8;
  for (int i = 0; i <= kSteps; ++i) {
    for (int k = 0; k <= kSteps; ++k) {
      const Point at{box.low.x + (box.high.x - box.low.x) * i / kSteps,
                     box.low.y + (box.high.y - box.low.y) * k / kSteps};
      const double away = distance(at, middle);
      if (away >= best_away || !contains(zone, at)) continue;
      const ImVec2 px = scale(at);
      const Rect plate{px.x - half, px.y - half, px.x + half, px.y + half};
      const bool inside = plate.left >= frame.left && plate.right <= frame.right &&
                          plate.top >= frame.top && plate.bottom <= frame.bottom;
      if (!inside || std::ranges::any_of(taken, [&](const Rect& r) { return meet(r, plate); })) {
        continue;
      }
      best = plate;
      best_away = away;
    }
  }
  return best;
}

void draw_numbers(Pen& pen, const proto::DustMap& map, const Scale& scale, const PlanLook& look,
                  const std::string& target, const Rect& frame) {
  std::vector<Rect> taken = marks_of(map, scale);
  const float high = pen.line_px(Face::kSmall);
  for (std::size_t i = 0; i < look.numbered.size(); ++i) {
    for (const proto::MapZone& zone : map.zones()) {
      if (zone.id() != look.numbered[i] || zone.id().empty()) continue;
      const Polygon polygon = polygon_of(zone.corners_m());
      if (polygon.size() < 3) continue;
      const std::string number = std::to_string(i + 1);
      const float wide = pen.wide(number, Face::kSmall);
      const float half = std::max(wide, high) / 2;
      const std::optional<Rect> plate = free_place(polygon, scale, half, taken, frame);
      if (!plate) continue;
      taken.push_back(*plate);
      pen.fill(*plate, kCard, half);
      pen.edge(*plate, kInk, 1.2F, half);
      pen.words_at(plate->left + half - wide / 2, plate->top + half - high / 2, number,
                   Face::kSmall, kInk, kCard, target);
    }
  }
}

}  // namespace

std::vector<Point> triangles_of(const Polygon& polygon) {
  std::vector<Point> out;
  Polygon left = polygon;
  while (left.size() >= 3) {
    bool cut = false;
    for (std::size_t i = 0; i < left.size() && !cut; ++i) {
      const Point a = left[(i + left.size() - 1) % left.size()];
      const Point b = left[i];
      const Point c = left[(i + 1) % left.size()];
      if (cross(b - a, c - b) <= 0) continue;
      const bool ear = std::ranges::none_of(left, [&](Point p) {
        if (p == a || p == b || p == c) return false;
        return cross(b - a, p - a) >= 0 && cross(c - b, p - b) >= 0 && cross(a - c, p - c) >= 0;
      });
      if (!ear) continue;
      out.insert(out.end(), {a, b, c});
      left.erase(left.begin() + static_cast<std::ptrdiff_t>(i));
      cut = true;
    }
    // Corners in one line, or a polygon that crosses itself: the rest has no ear.
    if (!cut) break;
  }
  return out;
}

float plan_height(const proto::DustMap& map, float width) {
  const Polygon room = polygon_of(map.room_m());
  if (room.size() < 3) return 0;
  const Box box = bounds(room);
  const double shape = (box.high.y - box.low.y) / (box.high.x - box.low.x);
  return static_cast<float>(std::clamp(shape, 0.2, 2.0)) * (width - 2 * kWall_px) + 2 * kWall_px;
}

std::string zone_under(const proto::DustMap& map, const Rect& at, float x, float y) {
  const Scale scale = scale_of(polygon_of(map.room_m()), at);
  std::string found;
  if (scale.px_per_m <= 0) return found;
  const Point point = scale.back(x, y);
  for (const proto::MapZone& zone : map.zones()) {
    const Polygon polygon = polygon_of(zone.corners_m());
    if (polygon.size() >= 3 && contains(polygon, point)) found = zone.id();
  }
  return found;
}

void draw_plan(Pen& pen, const proto::DustMap& map, const Rect& at, const PlanLook& look,
               const std::string& target) {
  const Polygon room = polygon_of(map.room_m());
  const Scale scale = scale_of(room, at);
  if (!(scale.px_per_m > 0)) return;
  std::set<std::string> listed;
  for (const proto::Duty& duty : map.answer().duties()) listed.insert(duty.zone());
  ImDrawList& list = pen.list();
  fill_polygon(list, room, scale, colour_of(shade_of(map, "")));
  Polygon chosen;
  for (const proto::MapZone& zone : map.zones()) {
    const Polygon polygon = polygon_of(zone.corners_m());
    if (polygon.size() < 3) continue;
    const Rgb ground = shade_of(map, zone.id());
    fill_polygon(list, polygon, scale, colour_of(ground));
    const Rgb pen_on = contrast_of(kInk, ground) > contrast_of(kPale, ground) ? kInk : kPale;
    if (!zone.id().empty() && listed.contains(zone.id())) {
      hatch(list, polygon, scale, colour_of(pen_on, 120));
    }
    outline(list, polygon, scale, colour_of(kInk, zone.height_m() > 0 ? 255 : 110),
            zone.height_m() > 0 ? 1.4F : 1);
    if (!look.chosen.empty() && zone.id() == look.chosen) chosen = polygon;
  }
  draw_rings(pen, map, scale, at);
  outline(list, room, scale, colour_of(kInk), kWall_px);
  draw_motes(pen, room, scale, look.air_share);
  for (const proto::MapMachine& machine : map.machines()) {
    if (!machine.used()) draw_machine(list, machine, scale);
  }
  for (const proto::MapMachine& machine : map.machines()) {
    if (machine.used()) draw_machine(list, machine, scale);
  }
  if (!chosen.empty()) {
    outline(list, chosen, scale, colour_of(kCard), 6);
    outline(list, chosen, scale, colour_of(kBrick), 3.5F);
  }
  draw_numbers(pen, map, scale, look, target, at);
}

}  // namespace chipfall::window
