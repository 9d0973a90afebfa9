#pragma once

#include <string>
#include <vector>

namespace chipfall {

/// A point of the plan in metres, x to the right and y up the page.
struct Point {
  double x = 0;
  double y = 0;
  friend bool operator==(const Point&, const Point&) = default;
};

inline Point operator+(Point a, Point b) { return {a.x + b.x, a.y + b.y}; }
inline Point operator-(Point a, Point b) { return {a.x - b.x, a.y - b.y}; }
inline Point operator*(double k, Point a) { return {k * a.x, k * a.y}; }
inline double cross(Point a, Point b) { return a.x * b.y - a.y * b.x; }
inline double dot(Point a, Point b) { return a.x * b.x + a.y * b.y; }
double distance(Point a, Point b);

/// Corners in order, counter-clockwise, the last joined to the first without being repeated.
/// Empty means no area. Simple: edges meet only at corners.
using Polygon = std::vector<Point>;

/// A set bounded by rings: outer ones counter-clockwise, holes clockwise. Areas and integrals are
/// sums over the rings with their sign, which is all that Green's theorem asks for.
using Region = std::vector<Polygon>;

struct Box {
  Point low;
  Point high;
};

Polygon rectangle(double left, double bottom, double right, double top);

/// Regular polygon of `corners` corners with the area of the circle, the first at angle
/// `first_rad`.
Polygon disc(Point centre, double radius_m, int corners, double first_rad = 0);

/// m2, positive for counter-clockwise corners; 0 for fewer than three.
double signed_area_m2(const Polygon& polygon);
double area_m2(const Region& region);
Point centroid(const Polygon& polygon);
Box bounds(const Polygon& polygon);
Box bounds(const std::vector<Polygon>& polygons);

/// Corners turned to counter-clockwise, repeated and collinear-with-itself corners dropped.
Polygon tidy(Polygon polygon);

/// Why the polygon is not simple ("crosses itself near (1.2, 3.4)"); empty when it is. Edges that
/// come within a nanometre of each other meet.
std::string why_not_simple(const Polygon& polygon);

/// Inside or on the boundary, give or take a nanometre.
bool contains(const Polygon& polygon, Point point);

/// Every part of `inner` lies in `outer` but for slivers thinner than `tolerance_m`.
bool contains(const Polygon& outer, const Polygon& inner, double tolerance_m);

/// Common part of two simple polygons; it has no holes.
Region intersection(const Polygon& a, const Polygon& b);

/// What is left of `whole` without `parts`, which may overlap each other.
Region remainder(const Polygon& whole, const std::vector<Polygon>& parts);

/// Area of the union of `parts` that lies inside `region`.
double covered_area_m2(const Region& region, const std::vector<Polygon>& parts);

/// The boxes share no area.
bool apart(const Box& a, const Box& b);

}  // namespace chipfall
