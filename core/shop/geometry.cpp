#include "core/shop/geometry.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include <fmt/format.h>
#include <polyclipping/clipper.hpp>

namespace chipfall {
namespace {

/// Clipping is done on whole numbers, where it cannot come apart: 15 picometres each, so that 1000
/// m stay well inside the library's range and a corner's rounding is far below the 1e-9 of the
/// mass. (Set operations on doubles lost whole rings of turned shops to rounding.)
constexpr double kUnitsPerMetre = 0x1p36;

/// Nearer than this is touching: far under a saw's width, far over what turning a shop rounds off.
constexpr double kTouching_m = 1e-9;

struct Edge {
  Point from;
  Point to;
};

Edge edge_of(const Polygon& polygon, size_t i) {
  return {polygon[i], polygon[(i + 1) % polygon.size()]};
}

bool touches(Point point, const Edge& edge) {
  const Point along = edge.to - edge.from;
  const double square = dot(along, along);
  const double share =
      square > 0 ? std::clamp(dot(point - edge.from, along) / square, 0.0, 1.0) : 0;
  const Point off = point - (edge.from + share * along);
  return dot(off, off) <= kTouching_m * kTouching_m;
}

/// A point that both have; a corner where one ends on the other.
std::optional<Point> meeting(const Edge& a, const Edge& b) {
  for (Point end : {b.from, b.to}) {
    if (touches(end, a)) return end;
  }
  for (Point end : {a.from, a.to}) {
    if (touches(end, b)) return end;
  }
  const Point along_a = a.to - a.from;
  const Point along_b = b.to - b.from;
  const double begins = cross(along_a, b.from - a.from);
  const double ends = cross(along_a, b.to - a.from);
  const bool b_crosses = (begins < 0) != (ends < 0);
  const bool a_crosses =
      (cross(along_b, a.from - b.from) < 0) != (cross(along_b, a.to - b.from) < 0);
  if (!a_crosses || !b_crosses) return std::nullopt;
  return b.from + begins / (begins - ends) * along_b;
}

/// Where edges that are not neighbours meet. Every pair is tried: kMostCorners bounds them.
std::optional<Point> crossing(const Polygon& polygon) {
  const size_t n = polygon.size();
  for (size_t i = 0; i < n; ++i) {
    for (size_t j = i + 2; j < n; ++j) {
      if (i == 0 && j == n - 1) continue;
      if (const auto at = meeting(edge_of(polygon, i), edge_of(polygon, j))) return at;
    }
  }
  return std::nullopt;
}

/// A corner where the outline turns back and runs along itself.
bool has_spike(const Polygon& polygon) {
  for (size_t i = 0; i < polygon.size(); ++i) {
    const Edge in = edge_of(polygon, i);
    const Edge out = edge_of(polygon, (i + 1) % polygon.size());
    if (touches(out.to, in) || touches(in.from, out)) return true;
  }
  return false;
}

ClipperLib::Path to_path(const Polygon& polygon) {
  ClipperLib::Path path;
  path.reserve(polygon.size());
  for (Point p : polygon) {
    path.emplace_back(std::llround(p.x * kUnitsPerMetre), std::llround(p.y * kUnitsPerMetre));
  }
  return path;
}

ClipperLib::Paths to_paths(const std::vector<Polygon>& polygons) {
  ClipperLib::Paths paths;
  for (const Polygon& polygon : polygons) paths.push_back(to_path(polygon));
  return paths;
}

/// Rings come back outer ones counter-clockwise, holes clockwise: a Region.
Region from_paths(const ClipperLib::Paths& paths) {
  Region region;
  for (const ClipperLib::Path& path : paths) {
    Polygon ring;
    ring.reserve(path.size());
    for (const ClipperLib::IntPoint& p : path) {
      ring.push_back(
          {static_cast<double>(p.X) / kUnitsPerMetre, static_cast<double>(p.Y) / kUnitsPerMetre});
    }
    region.push_back(std::move(ring));
  }
  return region;
}

Region clipped(ClipperLib::ClipType operation, const std::vector<Polygon>& subject,
               const std::vector<Polygon>& clip) {
  ClipperLib::Clipper clipper;
  clipper.AddPaths(to_paths(subject), ClipperLib::ptSubject, true);
  clipper.AddPaths(to_paths(clip), ClipperLib::ptClip, true);
  ClipperLib::Paths out;
  // Non-zero winding joins overlapping parts and lets clockwise rings be holes.
  clipper.Execute(operation, out, ClipperLib::pftNonZero, ClipperLib::pftNonZero);
  return from_paths(out);
}

}  // namespace

double distance(Point a, Point b) { return std::hypot(a.x - b.x, a.y - b.y); }

Polygon rectangle(double left, double bottom, double right, double top) {
  return {{left, bottom}, {right, bottom}, {right, top}, {left, top}};
}

Polygon disc(Point centre, double radius_m, int corners, double first_rad) {
  const double step = 2 * std::numbers::pi / corners;
  // Corners a little outside the circle, so that the areas agree: n/2 R^2 sin(step) = pi r^2.
  const double reach = radius_m * std::sqrt(step / std::sin(step));
  Polygon out;
  for (int i = 0; i < corners; ++i) {
    const double angle = first_rad + i * step;
    out.push_back({centre.x + reach * std::cos(angle), centre.y + reach * std::sin(angle)});
  }
  return out;
}

double signed_area_m2(const Polygon& polygon) {
  double twice = 0;
  for (size_t i = 0; i < polygon.size(); ++i) {
    // Relative to the first corner: far-off shops lose no digits.
    const Point a = polygon[i] - polygon[0];
    const Point b = polygon[(i + 1) % polygon.size()] - polygon[0];
    twice += cross(a, b);
  }
  return twice / 2;
}

double area_m2(const Region& region) {
  double sum = 0;
  for (const Polygon& ring : region) sum += signed_area_m2(ring);
  return sum;
}

Point centroid(const Polygon& polygon) {
  const double area = signed_area_m2(polygon);
  if (polygon.empty()) return {};
  Point sum;
  const Point origin = polygon[0];
  for (size_t i = 0; i < polygon.size(); ++i) {
    const Point a = polygon[i] - origin;
    const Point b = polygon[(i + 1) % polygon.size()] - origin;
    sum = sum + cross(a, b) * (a + b);
  }
  if (area == 0) return origin;
  return origin + (1 / (6 * area)) * sum;
}

Box bounds(const Polygon& polygon) {
  Box box{{HUGE_VAL, HUGE_VAL}, {-HUGE_VAL, -HUGE_VAL}};
  for (Point p : polygon) {
    box.low = {std::min(box.low.x, p.x), std::min(box.low.y, p.y)};
    box.high = {std::max(box.high.x, p.x), std::max(box.high.y, p.y)};
  }
  return box;
}

Box bounds(const std::vector<Polygon>& polygons) {
  Polygon corners;
  for (const Polygon& polygon : polygons) {
    const Box box = bounds(polygon);
    corners.push_back(box.low);
    corners.push_back(box.high);
  }
  return bounds(corners);
}

Polygon tidy(Polygon polygon) {
  polygon.erase(std::unique(polygon.begin(), polygon.end()), polygon.end());
  while (polygon.size() > 1 && polygon.front() == polygon.back()) polygon.pop_back();
  if (signed_area_m2(polygon) < 0) std::reverse(polygon.begin(), polygon.end());
  return polygon;
}

std::string why_not_simple(const Polygon& polygon) {
  if (polygon.size() < 3)
    return fmt::format("has {} corners; at least 3 are needed", polygon.size());
  for (Point p : polygon) {
    if (!std::isfinite(p.x) || !std::isfinite(p.y)) return "has a corner that is not a number";
  }
  if (has_spike(polygon)) return "has a spike (an edge that runs back along itself)";
  const auto crossed = crossing(polygon);
  const double area = signed_area_m2(polygon);
  // Where the two loops of a figure of eight cancel out, no place is named: it is all one mistake.
  if (crossed && area <= 0) return "crosses or touches itself";
  if (crossed) {
    return fmt::format("crosses or touches itself near ({:g}, {:g})", crossed->x, crossed->y);
  }
  return area < 0 ? "runs clockwise" : area > 0 ? "" : "encloses no area";
}

bool contains(const Polygon& polygon, Point point) {
  bool inside = false;
  for (size_t i = 0; i < polygon.size(); ++i) {
    const Edge edge = edge_of(polygon, i);
    if (touches(point, edge)) return true;
    if ((edge.from.y > point.y) == (edge.to.y > point.y)) continue;
    // Crossed by the ray to the right of the point: an odd number of times from inside.
    const bool upward = edge.to.y > edge.from.y;
    const double side = cross(edge.to - edge.from, point - edge.from);
    if ((side > 0) == upward) inside = !inside;
  }
  return inside;
}

bool contains(const Polygon& outer, const Polygon& inner, double tolerance_m) {
  double perimeter = 0;
  for (size_t i = 0; i < inner.size(); ++i) {
    perimeter += distance(inner[i], inner[(i + 1) % inner.size()]);
  }
  return area_m2(remainder(inner, {outer})) <= perimeter * tolerance_m;
}

Region intersection(const Polygon& a, const Polygon& b) {
  return clipped(ClipperLib::ctIntersection, {a}, {b});
}

Region remainder(const Polygon& whole, const std::vector<Polygon>& parts) {
  return clipped(ClipperLib::ctDifference, {whole}, parts);
}

double covered_area_m2(const Region& region, const std::vector<Polygon>& parts) {
  // Clipping costs by the corner; what lies apart from everything on the other side is dropped.
  const auto near = [](const std::vector<Polygon>& polygons, const Box& box) {
    std::vector<Polygon> kept;
    for (const Polygon& polygon : polygons) {
      if (!apart(bounds(polygon), box)) kept.push_back(polygon);
    }
    return kept;
  };
  const std::vector<Polygon> parts_near = near(parts, bounds(region));
  if (parts_near.empty()) return 0;
  const Region region_near = near(region, bounds(parts_near));
  return area_m2(clipped(ClipperLib::ctIntersection, region_near, parts_near));
}

bool apart(const Box& a, const Box& b) {
  return a.high.x <= b.low.x || b.high.x <= a.low.x || a.high.y <= b.low.y || b.high.y <= a.low.y;
}

}  // namespace chipfall
