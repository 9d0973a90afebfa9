#include "core/dust/visibility.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace chipfall {
namespace {

/// Thinner wedges hold no floor worth a gram: 1e-11 rad is 1 nm at 100 m.
constexpr double kThinnestWedge_rad = 1e-11;

Point direction(double angle_rad) { return {std::cos(angle_rad), std::sin(angle_rad)}; }

/// How far along the ray from `eye` it meets the line through a and b.
double distance_to_line(Point eye, Point ray, Point a, Point b) {
  const Point wall = b - a;
  return cross(a - eye, wall) / cross(ray, wall);
}

/// Where walls cross a ray that passes through no corner.
struct Nearest {
  size_t wall = 0;
  double distance_m = HUGE_VAL;
  int crossings = 0;
};

Nearest nearest_wall(const Polygon& outline, Point eye, Point ray) {
  Nearest nearest;
  for (size_t i = 0; i < outline.size(); ++i) {
    const Point a = outline[i] - eye;
    const Point b = outline[(i + 1) % outline.size()] - eye;
    if ((cross(ray, a) < 0) == (cross(ray, b) < 0)) continue;
    const double reach = distance_to_line({}, ray, a, b);
    if (reach <= 0) continue;
    ++nearest.crossings;
    if (reach < nearest.distance_m) {
      nearest.distance_m = reach;
      nearest.wall = i;
    }
  }
  return nearest;
}

/// The direction of a corner.
struct Sight {
  double angle_rad = 0;
  Point corner;
};

/// Where the sight along a corner ends on the wall a-b: in the corner itself where the wall begins
/// or ends there, so that what is wholly visible keeps its corners to the last digit.
Point end_of_sight(Point eye, const Sight& sight, Point a, Point b) {
  if (sight.corner == a || sight.corner == b) return sight.corner;
  const Point ray = direction(sight.angle_rad);
  return eye + distance_to_line(eye, ray, a, b) * ray;
}

}  // namespace

Polygon visible_from(const Polygon& outline, Point eye) {
  std::vector<Sight> sights;
  for (Point corner : outline) {
    if (corner == eye) continue;
    sights.push_back({std::atan2(corner.y - eye.y, corner.x - eye.x), corner});
  }
  std::ranges::sort(sights, {}, &Sight::angle_rad);
  Polygon visible;
  bool gap = false;
  for (size_t i = 0; i < sights.size(); ++i) {
    const Sight& first = sights[i];
    const Sight& second = sights[(i + 1) % sights.size()];
    const double from = first.angle_rad;
    const bool last = i + 1 == sights.size();
    const double to = second.angle_rad + (last ? 2 * std::numbers::pi : 0);
    if (to - from < kThinnestWedge_rad) continue;
    const Nearest nearest = nearest_wall(outline, eye, direction((from + to) / 2));
    if (nearest.crossings % 2 == 0) {  // looking out of the room
      gap = true;
      continue;
    }
    const Point a = outline[nearest.wall];
    const Point b = outline[(nearest.wall + 1) % outline.size()];
    visible.push_back(end_of_sight(eye, first, a, b));
    visible.push_back(end_of_sight(eye, second, a, b));
  }
  if (gap && !visible.empty()) visible.push_back(eye);
  return tidy(visible);
}

}  // namespace chipfall
