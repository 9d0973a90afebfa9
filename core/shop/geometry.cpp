#include "core/shop/geometry.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <boost/geometry.hpp>
#include <boost/geometry/geometries/multi_polygon.hpp>
#include <boost/geometry/geometries/point_xy.hpp>
#include <boost/geometry/geometries/polygon.hpp>
#include <fmt/format.h>

namespace chipfall {
namespace {

namespace bg = boost::geometry;
using BgPoint = bg::model::d2::point_xy<double>;
constexpr bool kClockwise = false;
constexpr bool kClosed = false;
using BgPolygon = bg::model::polygon<BgPoint, kClockwise, kClosed>;
using BgMulti = bg::model::multi_polygon<BgPolygon>;

BgPolygon to_bg(const Polygon& polygon) {
  BgPolygon out;
  for (Point p : polygon) out.outer().emplace_back(p.x, p.y);
  return out;
}

template <typename Ring>
Polygon from_ring(const Ring& ring) {
  Polygon out;
  for (const BgPoint& p : ring) out.push_back({p.x(), p.y()});
  return out;
}

Region from_bg(const BgMulti& multi) {
  Region out;
  for (const BgPolygon& polygon : multi) {
    out.push_back(from_ring(polygon.outer()));
    for (const auto& hole : polygon.inners()) out.push_back(from_ring(hole));
  }
  return out;
}

/// One by one rather than all at once: the library's union takes two operands.
BgMulti united(const std::vector<Polygon>& parts) {
  BgMulti all;
  for (const Polygon& part : parts) {
    if (part.size() < 3) continue;
    BgMulti next;
    bg::union_(all, to_bg(part), next);
    all = std::move(next);
  }
  return all;
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

Polygon tidy(Polygon polygon) {
  polygon.erase(std::unique(polygon.begin(), polygon.end()), polygon.end());
  while (polygon.size() > 1 && polygon.front() == polygon.back()) polygon.pop_back();
  if (signed_area_m2(polygon) < 0) std::reverse(polygon.begin(), polygon.end());
  return polygon;
}

std::string why_not_simple(const Polygon& polygon) {
  if (polygon.size() < 3) return fmt::format("has {} corners; at least 3 are needed", polygon.size());
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
    case bg::failure_spikes: return "has a spike (an edge that runs back along itself)";
    case bg::failure_wrong_orientation:
      // The two loops of an even figure of eight cancel out, which is found before the crossing.
      return bg::intersects(to_bg(polygon)) ? "crosses or touches itself" : "runs clockwise";
    case bg::failure_invalid_coordinate: return "has a corner that is not a number";
    default: return "encloses no area";
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
  if (a.size() < 3 || b.size() < 3) return {};
  BgMulti out;
  bg::intersection(to_bg(a), to_bg(b), out);
  return from_bg(out);
}

Region remainder(const Polygon& whole, const std::vector<Polygon>& parts) {
  BgMulti out;
  bg::difference(to_bg(whole), united(parts), out);
  return from_bg(out);
}

double covered_area_m2(const Region& region, const std::vector<Polygon>& parts) {
  double area = 0;
  for (const Polygon& ring : region) {
    const bool hole = signed_area_m2(ring) < 0;
    const Polygon solid = hole ? tidy(ring) : ring;
    std::vector<Polygon> near;
    for (const Polygon& part : parts) {
      if (!apart(bounds(part), bounds(solid))) near.push_back(part);
    }
    if (near.empty()) continue;
    BgMulti inside;
    bg::intersection(united(near), to_bg(solid), inside);
    area += (hole ? -1 : 1) * bg::area(inside);
  }
  return area;
}

bool apart(const Box& a, const Box& b) {
  return a.high.x <= b.low.x || b.high.x <= a.low.x || a.high.y <= b.low.y || b.high.y <= a.low.y;
}

}  // namespace chipfall
