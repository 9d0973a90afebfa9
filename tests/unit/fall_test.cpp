#include "core/dust/fall.h"

#include <cmath>
#include <numeric>

#include <doctest/doctest.h>

#include "tests/unit/random_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

Zone zone(const std::string& id, ZoneKind kind, Polygon corners, double height_m, double cover) {
  Zone out;
  out.id = id;
  out.kind = kind;
  out.corners = std::move(corners);
  out.height_m = height_m;
  out.cover = cover;
  return out;
}

Shop room_with(std::vector<Zone> zones) {
  Shop shop;
  shop.outline = rectangle(0, 0, 10, 8);
  shop.zones = std::move(zones);
  return shop;
}

FallShares shares_in(const Shop& shop, Point at, double heading_rad, const ThrowKernel& kernel) {
  return fall_shares(shop, view_from(shop, overlay_of(shop), at, 1e3), at, heading_rad, kernel);
}

double total(const FallShares& shares) {
  return std::accumulate(shares.zones.begin(), shares.zones.end(), shares.open_floor);
}

}  // namespace

TEST_CASE("a bench keeps its cover of what falls over it and the floor gets the rest") {
  const Polygon place = rectangle(2, 2, 8, 6);
  const ThrowKernel kernel{0, 1, 1};
  const Shop bare = room_with({zone("floor", ZoneKind::kFloor, place, 0, 1)});
  const double all = shares_in(bare, {5, 4}, 0, kernel).zones[0];
  for (double cover : {0.0, 0.3, 1.0}) {
    const Shop shop = room_with({zone("floor", ZoneKind::kFloor, place, 0, 1),
                                 zone("bench", ZoneKind::kTop, place, 0.9, cover)});
    const FallShares shares = shares_in(shop, {5, 4}, 0, kernel);
    CHECK(shares.zones[1] == doctest::Approx(cover * all).epsilon(1e-12));
    CHECK(shares.zones[0] == doctest::Approx((1 - cover) * all).epsilon(1e-12));
  }
}

TEST_CASE("a shelf over a bench over a floor each take their share of what the last let pass") {
  const Polygon place = rectangle(2, 2, 8, 6);
  const ThrowKernel kernel{0, 1, 1};
  const Shop shop = room_with({zone("floor", ZoneKind::kFloor, place, 0, 1),
                               zone("bench", ZoneKind::kTop, place, 0.9, 0.5),
                               zone("shelf", ZoneKind::kLedge, place, 2, 0.2)});
  const FallShares shares = shares_in(shop, {5, 4}, 0, kernel);
  const double all = shares.zones[0] + shares.zones[1] + shares.zones[2];
  CHECK(shares.zones[2] == doctest::Approx(0.2 * all));
  CHECK(shares.zones[1] == doctest::Approx(0.8 * 0.5 * all));
  CHECK(shares.zones[0] == doctest::Approx(0.8 * 0.5 * all));
}

TEST_CASE("shavings that fly at bench height never reach a ledge above") {
  const Polygon place = rectangle(2, 2, 8, 6);
  ThrowKernel kernel{0, 1, 1, 1.5};
  const Shop shop = room_with({zone("floor", ZoneKind::kFloor, place, 0, 1),
                               zone("ledge", ZoneKind::kLedge, place, 2.2, 1)});
  const FallShares low = shares_in(shop, {5, 4}, 0, kernel);
  CHECK(low.zones[1] == 0);
  CHECK(low.zones[0] > 0.9);
  kernel.up_to_m = 1e9;
  CHECK(shares_in(shop, {5, 4}, 0, kernel).zones[0] == doctest::Approx(0).epsilon(1e-9));
}

TEST_CASE("nothing falls behind the inner corner of an L") {
  Shop shop = room_with({zone("hidden", ZoneKind::kFloor, rectangle(4, 7.5, 5, 9), 0, 1),
                         zone("near", ZoneKind::kFloor, rectangle(8, 0, 10, 4), 0, 1)});
  shop.outline = {{0, 0}, {10, 0}, {10, 4}, {5, 4}, {5, 9}, {0, 9}};
  const FallShares shares = shares_in(shop, {9, 3.5}, 3, {0, 4, 4});
  CHECK(shares.zones[0] == 0);
  CHECK(shares.zones[1] > 0.1);
  CHECK(total(shares) == doctest::Approx(1).epsilon(1e-14));
}

TEST_CASE("chips thrown at a wall stay in the room, however tight the throw") {
  const Shop shop = room_with({zone("by-wall", ZoneKind::kFloor, rectangle(8, 0, 10, 8), 0, 1)});
  for (double offset : {0.2, 1.0, 3.0, 30.0}) {
    CAPTURE(offset);
    const FallShares shares = shares_in(shop, {9.5, 4}, 0, {offset, 0.3, 0.3});
    CHECK(total(shares) == doctest::Approx(1).epsilon(1e-14));
    CHECK(shares.zones[0] > 0.99);
  }
}

TEST_CASE("shares add up to one and the open floor is what its own polygon gets") {
  for (unsigned seed = 0; seed < 60; ++seed) {
    CAPTURE(seed);
    const Shop shop = random_shop(seed);
    const Overlay overlay = overlay_of(shop);
    for (const Machine& machine : shop.machines) {
      const View view = view_from(shop, overlay, machine.at, reach_m(machine.kind));
      const ThrowKernel& kernel = machine.kind.thrown[kFine];
      const FallShares shares = fall_shares(shop, view, machine.at, machine.heading_rad, kernel);
      CHECK(total(shares) == doctest::Approx(1).epsilon(1e-12));
      // The other way round: integrate over the floor without zones, and add what benches and
      // ledges with no floor zone under them let pass.
      Throw thrown = placed(kernel, machine.at, machine.heading_rad);
      const double in_room = normal_mass(whitened(thrown, view.visible));
      if (in_room < kLeastInRoom) continue;
      double direct = 0;
      for (const Polygon& ring : overlay.open_floor) {
        const bool hole = signed_area_m2(ring) < 0;
        const Polygon solid = tidy(ring);
        for (const Polygon& seen : intersection(solid, view.visible)) {
          direct += (hole ? -1 : 1) * normal_mass(whitened(thrown, seen));
        }
      }
      CHECK(shares.open_floor >= direct / in_room - 1e-9);
      bool all_on_floors = true;
      for (const Zone& upper : shop.zones) {
        if (upper.kind == ZoneKind::kFloor || upper.cover == 1) continue;
        std::vector<Polygon> floors;
        for (const Zone& low : shop.zones) {
          if (low.height_m < upper.height_m) floors.push_back(low.corners);
        }
        all_on_floors &= area_m2(remainder(upper.corners, floors)) < 1e-9;
      }
      if (all_on_floors) CHECK(std::abs(shares.open_floor - direct / in_room) < 1e-9);
    }
  }
}

TEST_CASE("throwing many single chips gives the same shares within their own error") {
  const Shop shop = random_shop(11);
  const Machine& machine = shop.machines[0];
  const ThrowKernel kernel{0.6, 1.3, 0.7, 1.6};
  const FallShares shares = shares_in(shop, machine.at, machine.heading_rad, kernel);
  const Polygon visible = visible_from(shop.outline, machine.at);
  Dice dice(5);
  std::normal_distribution<double> normal;
  std::vector<double> hits(shop.zones.size() + 1, 0);
  std::vector<size_t> top_down(shop.zones.size());
  std::iota(top_down.begin(), top_down.end(), 0);
  std::ranges::sort(top_down, std::greater(), [&](size_t z) { return shop.zones[z].height_m; });
  constexpr int kChipsThrown = 200000;
  for (int n = 0; n < kChipsThrown;) {
    const double along = kernel.offset_m + kernel.along_m * normal(dice.engine());
    const double across = kernel.across_m * normal(dice.engine());
    const double c = std::cos(machine.heading_rad), s = std::sin(machine.heading_rad);
    const Point p = machine.at + Point{c * along - s * across, s * along + c * across};
    if (!contains(visible, p)) continue;
    ++n;
    size_t landed = shop.zones.size();
    for (size_t z : top_down) {
      const Zone& at = shop.zones[z];
      if (at.height_m > kernel.up_to_m || !contains(at.corners, p)) continue;
      if (at.kind != ZoneKind::kFloor && dice.between(0, 1) > at.cover) continue;
      landed = z;
      break;
    }
    hits[landed] += 1.0 / kChipsThrown;
  }
  for (size_t z = 0; z <= shop.zones.size(); ++z) {
    CAPTURE(z);
    const double p = z < shop.zones.size() ? shares.zones[z] : shares.open_floor;
    const double error = std::sqrt(std::max(p * (1 - p), 1e-6) / kChipsThrown);
    CHECK(std::abs(hits[z] - p) < 4.5 * error);
  }
}

TEST_CASE("settled dust falls evenly, by exposed area") {
  const Shop shop = room_with({zone("floor", ZoneKind::kFloor, rectangle(0, 0, 5, 8), 0, 1),
                               zone("bench", ZoneKind::kTop, rectangle(0, 0, 2, 2), 0.9, 0.5)});
  const FallShares even = even_shares(shop, overlay_of(shop));
  CHECK(even.zones[1] == doctest::Approx(2.0 / 80));
  CHECK(even.zones[0] == doctest::Approx(38.0 / 80));
  CHECK(even.open_floor == doctest::Approx(0.5));
}
