#include "core/shop/geometry.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <fmt/format.h>
#include <boost/geometry.hpp>
#include <boost/geometry/geometries/point_xy.hpp>
#include <boost/geometry/geometries/polygon.hpp>
#include <polyclipping/clipper.hpp>

namespace chipfall {
namespace {

namespace bg = boost::geometry;
using BgPoint = bg::model::d2::point_xy<double>;
constexpr bool kClockwise = false;
constexpr bool kClosed = false;
using BgPolygon = bg::model::polygon<BgPoint, kClockwise, kClosed>;

/// Clipping is done on whole numbers, where it cannot come apart: 15 picometres each, so that 1000
/// m stay well inside the library's range and a corner's rounding is far below the 1e-9 of the
/// mass. (Boost.Geometry's own set operations lost whole rings of turned shops to rounding.)
constexpr double kUnitsPerMetre = 0x1p36;

BgPolygon to_bg(const Polygon& polygon) {
  BgPolygon out;
  for (Point p : polygon) out.outer().emplace_back(p.x, p.y);
  return out;
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
  bg::validity_failure_type failure{};
  if (bg::is_valid(to_bg(polygon), failure)) return {};
  switch (failure) {
    case bg::failure_self_intersections: {
      std::string at;
      std::string text;
      bg::is_valid(to_bg(polygon), text);
      const size_t open = text.find('(');
      const size_t shut = text.find(')');
      if (open != std::string::npos && shut != std::string::npos) {
        at = " near " + text.substr(open, shut - open + 1);
      }
      return "crosses or touches itself" + at;
    }
    case bg::failure_spikes:
      return "has a spike (an edge that runs back along itself)";
    case bg::failure_wrong_orientation:
      // The two loops of an even figure of eight cancel out, which is found before the crossing.
      return bg::intersects(to_bg(polygon)) ? "crosses or touches itself" : "runs clockwise";
    case bg::failure_invalid_coordinate:
      return "has a corner that is not a number";
    default:
      return "encloses no area";
  }
}

bool contains(const Polygon& polygon, Point point) {
  return bg::covered_by(BgPoint(point.x, point.y), to_bg(polygon));
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
