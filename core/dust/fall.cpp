#include "core/dust/fall.h"

#include <algorithm>
#include <cmath>

namespace chipfall {
namespace {

/// Where the throw's line from the machine meets the edge of what it can see.
Point wall_ahead(const Polygon& visible, Point at, Point centre) {
  const Point line = centre - at;
  double nearest = 1;
  for (size_t i = 0; i < visible.size(); ++i) {
    const Point a = visible[i];
    const Point wall = visible[(i + 1) % visible.size()] - a;
    const double turn = cross(line, wall);
    if (turn == 0) continue;
    const double along_line = cross(a - at, wall) / turn;
    const double along_wall = cross(a - at, line) / turn;
    if (along_wall < 0 || along_wall > 1 || along_line <= 0) continue;
    nearest = std::min(nearest, along_line);
  }
  return at + nearest * line;
}

double distance_to_box(Point p, const Box& box) {
  return std::hypot(std::max({box.low.x - p.x, p.x - box.high.x, 0.0}),
                    std::max({box.low.y - p.y, p.y - box.high.y, 0.0}));
}

/// The segment may touch the box: never false where it does.
bool may_touch(Point a, Point b, const Box& box) {
  if (std::max(a.x, b.x) < box.low.x || std::min(a.x, b.x) > box.high.x) return false;
  if (std::max(a.y, b.y) < box.low.y || std::min(a.y, b.y) > box.high.y) return false;
  // All four corners on one side of the line through a and b?
  int left = 0;
  int right = 0;
  for (Point corner : rectangle(box.low.x, box.low.y, box.high.x, box.high.y)) {
    const double side = cross(b - a, corner - a);
    left += side > 0;
    right += side < 0;
  }
  return left < 4 && right < 4;
}

/// The visible part of a polygon. Mostly no edge of what is visible comes near, and one corner
/// decides for the whole; only at the shadow's edge is there something to cut.
Region seen_part(const Polygon& part, const Polygon& visible) {
  const Box box = bounds(part);
  bool near_edge = false;
  for (size_t i = 0; i < visible.size() && !near_edge; ++i) {
    near_edge = may_touch(visible[i], visible[(i + 1) % visible.size()], box);
  }
  if (near_edge) return intersection(part, visible);
  return contains(visible, part[0]) ? Region{part} : Region();
}

double mass_on(const Throw& thrown, const Polygon& part) {
  const double reach = kReach_sd * std::max(thrown.along_m, thrown.across_m);
  if (distance_to_box(thrown.centre, bounds(part)) > reach) return 0;
  return normal_mass(whitened(thrown, part));
}

}  // namespace

double reach_m(const MachineKind& kind) {
  double reach = 0;
  for (const ThrowKernel& kernel : kind.thrown) {
    reach = std::max(
        reach, std::abs(kernel.offset_m) + kReach_sd * std::max(kernel.along_m, kernel.across_m));
  }
  return reach;
}

View view_from(const Shop& shop, const Overlay& overlay, Point at, double reach_m) {
  View view;
  view.visible = visible_from(shop.outline, at);
  const bool whole_room = shop.floor_m2() - signed_area_m2(view.visible) < 1e-12 * shop.floor_m2();
  for (const std::vector<CatchTerm>& terms : overlay.zones) {
    std::vector<CatchTerm>& seen = view.zones.emplace_back();
    for (const CatchTerm& term : terms) {
      if (distance_to_box(at, bounds(term.part)) > reach_m) continue;
      if (whole_room) {
        seen.push_back(term);
        continue;
      }
      for (Polygon& part : seen_part(term.part, view.visible)) {
        seen.push_back({std::move(part), term.factor, term.top_m});
      }
    }
  }
  return view;
}

FallShares fall_shares(const Shop& shop, const View& view, Point at, double heading_rad,
                       const ThrowKernel& kernel) {
  Throw thrown = placed(kernel, at, heading_rad);
  double in_room = normal_mass(whitened(thrown, view.visible));
  if (in_room < kLeastInRoom) {
    thrown.centre = wall_ahead(view.visible, at, thrown.centre);
    in_room = normal_mass(whitened(thrown, view.visible));
  }
  FallShares shares;
  shares.zones.assign(shop.zones.size(), 0);
  if (!(in_room > 0)) return shares;
  for (size_t z = 0; z < shop.zones.size(); ++z) {
    if (shop.zones[z].height_m > kernel.up_to_m) continue;
    double mass = 0;
    for (const CatchTerm& term : view.zones[z]) {
      if (term.top_m <= kernel.up_to_m) mass += term.factor * mass_on(thrown, term.part);
    }
    // Signed terms may leave a last digit below nothing.
    shares.zones[z] = std::max(0.0, mass / in_room);
    shares.open_floor -= shares.zones[z];
  }
  shares.open_floor = std::max(0.0, shares.open_floor);
  return shares;
}

FallShares even_shares(const Shop& shop, const Overlay& overlay) {
  FallShares shares;
  for (double exposed_m2 : overlay.exposed_m2) {
    shares.zones.push_back(exposed_m2 / shop.floor_m2());
    shares.open_floor -= shares.zones.back();
  }
  shares.open_floor = std::max(0.0, shares.open_floor);
  return shares;
}

}  // namespace chipfall
