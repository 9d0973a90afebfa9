#include "core/dust/visibility.h"

#include <cmath>

#include <doctest/doctest.h>

#include "tests/unit/random_shop.h"

using namespace chipfall;
using chipfall::test::Dice;

namespace {

const Polygon kL{{0, 0}, {10, 0}, {10, 4}, {5, 4}, {5, 9}, {0, 9}};

/// Walks along the straight line in small steps: slow, and nothing like the sweep.
bool straight_way_inside(const Polygon& room, Point from, Point to) {
  for (int i = 0; i <= 400; ++i) {
    if (!contains(room, from + (i / 400.0) * (to - from))) return false;
  }
  return true;
}

}  // namespace

TEST_CASE("in a convex room everything is visible, corner by corner") {
  const Polygon room = rectangle(0, 0, 7, 5);
  const Polygon seen = visible_from(room, {1.3, 4.2});
  CHECK(seen.size() == 4);
  CHECK(signed_area_m2(seen) == doctest::Approx(35).epsilon(1e-14));
}

TEST_CASE("the inner corner of an L hides the far leg") {
  // From (9, 1) the line through the inner corner (5, 4) meets the wall x = 0 at y = 7.75.
  const Polygon seen = visible_from(kL, {9, 1});
  // Hidden: what lies beyond that line in the upper leg, a triangle-cut of it.
  const double slope = -3.0 / 4;
  const double top_x = 5 + (9 - 4) / slope;  // where the line would reach y = 9
  CHECK(top_x < 0);
  const double visible_leg = 0.5 * ((4 - 4) + (7.75 - 4)) * 5;
  CHECK(signed_area_m2(seen) == doctest::Approx(40 + visible_leg).epsilon(1e-12));
}

TEST_CASE("what is visible is what a straight line reaches") {
  Dice dice(7);
  const Polygon room{{0, 0},   {12, 0}, {12, 3}, {9, 3}, {9, 6},  {12, 6},
                     {12, 10}, {4, 10}, {4, 7},  {3, 7}, {3, 10}, {0, 10}};
  int checked = 0;
  for (int i = 0; i < 40; ++i) {
    const Point eye{dice.between(0, 12), dice.between(0, 10)};
    if (!contains(room, eye)) continue;
    const Polygon seen = visible_from(room, eye);
    for (int j = 0; j < 60; ++j) {
      const Point p{dice.between(0, 12), dice.between(0, 10)};
      // Too close to an edge of the answer, the steps of the slow way decide nothing.
      const bool inside = contains(seen, p);
      bool clear = true;
      for (double dx : {-0.02, 0.02}) {
        for (double dy : {-0.02, 0.02}) clear &= contains(seen, p + Point{dx, dy}) == inside;
      }
      if (!clear) continue;
      ++checked;
      CHECK(inside == straight_way_inside(room, eye, p));
    }
  }
  CHECK(checked > 1000);
}

TEST_CASE("from a wall one sees the room before it and from outside nothing") {
  CHECK(signed_area_m2(visible_from(rectangle(0, 0, 4, 3), {2, 0})) == doctest::Approx(12));
  CHECK(signed_area_m2(visible_from(rectangle(0, 0, 4, 3), {0, 0})) == doctest::Approx(12));
  CHECK(visible_from(rectangle(0, 0, 4, 3), {5, 5}).empty());
}
