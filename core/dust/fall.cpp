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

bool in_reach(const Throw& thrown, const Polygon& part) {
  const Box box = bounds(part);
  const double dx = std::max({box.low.x - thrown.centre.x, thrown.centre.x - box.high.x, 0.0});
  const double dy = std::max({box.low.y - thrown.centre.y, thrown.centre.y - box.high.y, 0.0});
  return std::hypot(dx, dy) <= kReach_sd * std::max(thrown.along_m, thrown.across_m);
}

double mass_on(const Throw& thrown, const View& view, const Polygon& part) {
  if (!in_reach(thrown, part)) return 0;
  if (view.whole_room) return normal_mass(whitened(thrown, part));
  double mass = 0;
  for (const Polygon& seen : intersection(part, view.visible)) {
    mass += normal_mass(whitened(thrown, seen));
  }
  return mass;
}

}  // namespace

View view_from(const Shop& shop, Point at) {
  View view{visible_from(shop.outline, at), false};
  const double hidden = shop.floor_m2() - signed_area_m2(view.visible);
  view.whole_room = hidden < 1e-12 * shop.floor_m2();
  return view;
}

FallShares fall_shares(const Shop& shop, const Overlay& overlay, const View& view, Point at,
                       double heading_rad, const ThrowKernel& kernel) {
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
    for (const CatchTerm& term : overlay.zones[z]) {
      if (term.top_m <= kernel.up_to_m) mass += term.factor * mass_on(thrown, view, term.part);
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
