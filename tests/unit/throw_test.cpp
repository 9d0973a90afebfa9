#include "core/dust/throw.h"

#include <cmath>
#include <numbers>

#include <doctest/doctest.h>

#include "tests/unit/random_shop.h"

using namespace chipfall;
using chipfall::test::Dice;

namespace {

double below(double z) { return 0.5 * std::erfc(-z / std::numbers::sqrt2); }

Polygon star(Dice& dice, Point centre, int corners, double reach) {
  Polygon out;
  for (int i = 0; i < corners; ++i) {
    const double angle = 2 * std::numbers::pi * (i + dice.between(0.05, 0.95)) / corners;
    const double r = dice.between(0.2, 1) * reach;
    out.push_back(centre + r * Point{std::cos(angle), std::sin(angle)});
  }
  return out;
}

}  // namespace

TEST_CASE("a rectangle turned anywhere has the product of its two normal strips") {
  Dice dice(1);
  for (int i = 0; i < 500; ++i) {
    const double left = dice.between(-4, 4), right = left + dice.between(0.01, 5);
    const double low = dice.between(-4, 4), high = low + dice.between(0.01, 5);
    const double angle = dice.between(0, 6.28);
    Polygon turned;
    for (Point p : rectangle(left, low, right, high)) {
      turned.push_back({p.x * std::cos(angle) - p.y * std::sin(angle),
                        p.x * std::sin(angle) + p.y * std::cos(angle)});
    }
    const double exact = (below(right) - below(left)) * (below(high) - below(low));
    CHECK(std::abs(normal_mass(turned) - exact) < 1e-13);
  }
}

TEST_CASE("a polygon has the mass of the parts that any line splits it into") {
  Dice dice(2);
  for (int i = 0; i < 300; ++i) {
    const Polygon whole = star(dice, {dice.between(-2, 2), dice.between(-2, 2)}, 9, 3);
    const double angle = dice.between(0, 6.28);
    const Point along{std::cos(angle), std::sin(angle)};
    const Point side{-along.y, along.x};
    const Point through{dice.between(-1, 1), dice.between(-1, 1)};
    const Polygon half{through + -50.0 * along, through + 50.0 * along,
                       through + 50.0 * along + 50.0 * side, through + -50.0 * along + 50.0 * side};
    double parts = 0;
    for (const Polygon& part : intersection(whole, half)) parts += normal_mass(part);
    for (const Polygon& part : remainder(whole, {half})) parts += normal_mass(part);
    CHECK(std::abs(parts - normal_mass(whole)) < 1e-9);
  }
}

TEST_CASE("all of the plane that matters has mass one, a half plane a half, a quarter a quarter") {
  CHECK(std::abs(normal_mass(rectangle(-20, -20, 20, 20)) - 1) < 1e-13);
  CHECK(std::abs(normal_mass(rectangle(0, -1e3, 1e3, 1e3)) - 0.5) < 1e-13);
  CHECK(std::abs(normal_mass(rectangle(0, 0, 1e3, 1e3)) - 0.25) < 1e-13);
}

TEST_CASE("a clockwise ring counts negative, so that holes subtract") {
  Polygon hole = rectangle(-1, -1, 1, 1);
  std::reverse(hole.begin(), hole.end());
  CHECK(normal_mass(hole) == doctest::Approx(-normal_mass(rectangle(-1, -1, 1, 1))));
}

TEST_CASE("fewer than three corners, and places out of reach, have no mass") {
  CHECK(normal_mass({}) == 0);
  CHECK(normal_mass({{0, 0}, {1, 1}}) == 0);
  CHECK(normal_mass(rectangle(9, 9, 10, 10)) == 0);
}

TEST_CASE("a very long thin zone past the machine keeps its digits") {
  const double exact = below(0.001) - below(-0.001);
  CHECK(std::abs(normal_mass(rectangle(-0.001, -900, 0.001, 900)) - exact) < 1e-15);
}

TEST_CASE("whitening turns a placed throw into the standard normal") {
  const Throw thrown = placed({0.5, 2, 0.25}, {3, 4}, std::numbers::pi / 2);
  CHECK(thrown.centre.x == doctest::Approx(3));
  CHECK(thrown.centre.y == doctest::Approx(4.5));
  // One standard deviation along the throw is up the page, one across it to the left.
  const Polygon seen = whitened(thrown, {{3, 6.5}, {2.75, 4.5}});
  CHECK(seen[0].x == doctest::Approx(1));
  CHECK(std::abs(seen[0].y) < 1e-12);
  CHECK(std::abs(seen[1].x) < 1e-12);
  CHECK(seen[1].y == doctest::Approx(1));
}

TEST_CASE("the clean-out radius holds its share of a mixed, offset throw") {
  const std::array<ThrowKernel, kChipClasses> thrown{
      {{0.8, 0.5, 0.4}, {0.4, 0.6, 0.5}, {0.2, 0.7, 0.7}, {0, 1.4, 1.2}}};
  const PerClass grams{500, 300, 150, 50};
  const double radius = radius_holding_m(thrown, grams, 0.95);
  double inside = 0;
  for (ChipClass c : kAllClasses) {
    // A polygon of 4000 corners stands in for the circle: a different integral altogether.
    inside += grams[c] * normal_mass(whitened(placed(thrown[c], {}, 0), disc({}, radius, 4000)));
  }
  CHECK(inside / sum(grams) == doctest::Approx(0.95).epsilon(1e-3));
  CHECK(radius_holding_m(thrown, {}, 0.95) == 0);
}
