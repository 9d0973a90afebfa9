#include "core/shop/geometry.h"

#include <cmath>

#include <doctest/doctest.h>

namespace chipfall {
namespace {

/// About the origin, so that corners that touched do so but for rounding.
Polygon turned(const Polygon& polygon, double angle_rad) {
  const double c = std::cos(angle_rad);
  const double s = std::sin(angle_rad);
  Polygon out;
  for (Point p : polygon) out.push_back({c * p.x - s * p.y, s * p.x + c * p.y});
  return out;
}

TEST_CASE(
    "an outline that touches itself, or runs back along itself, is found however it is turned") {
  const Polygon touching{{0, 0}, {4, 0}, {4, 3}, {2, 0}, {0, 3}};
  const Polygon spiked{{0, 0}, {4, 0}, {4, 3}, {4, 5}, {4, 3}, {0, 3}};
  const Polygon sound{{0, 0}, {4, 0}, {4, 3}, {2, 0.001}, {0, 3}};
  for (int degrees = 0; degrees < 360; degrees += 7) {
    const double angle_rad = degrees * 0.017453292519943295;
    CAPTURE(degrees);
    CHECK(
        why_not_simple(turned(touching, angle_rad)).starts_with("crosses or touches itself near"));
    CHECK(why_not_simple(turned(spiked, angle_rad)).starts_with("has a spike"));
    CHECK(why_not_simple(turned(sound, angle_rad)).empty());
  }
}

TEST_CASE("a point on the boundary is inside however the polygon is turned, one beside it is not") {
  const Polygon notched{{0, 0}, {4, 0}, {4, 3}, {2, 1}, {0, 3}};
  const Polygon on{{2, 0}, {4, 1}, {3, 2}, {2, 1}, {0, 3}, {2, 0.5}};
  const Polygon beside{{2, -0.001}, {4.001, 1}, {3, 2.002}, {2, 1.002}, {0, 3.001}, {-0.001, 1}};
  for (int degrees = 0; degrees < 360; degrees += 7) {
    const double angle_rad = degrees * 0.017453292519943295;
    CAPTURE(degrees);
    for (Point p : turned(on, angle_rad)) CHECK(contains(turned(notched, angle_rad), p));
    for (Point p : turned(beside, angle_rad)) CHECK(!contains(turned(notched, angle_rad), p));
  }
}

}  // namespace
}  // namespace chipfall
