#pragma once

#include <algorithm>
#include <cmath>
#include <random>
#include <string>

#include "core/shop/session.h"

/// Shops and sessions from a seed, for properties that must hold in all of them.
namespace chipfall::test {

class Dice {
 public:
  explicit Dice(unsigned seed) : engine_(seed) {}
  double between(double low, double high) {
    return low + (high - low) * (static_cast<double>(engine_() >> 11) * 0x1p-53);
  }
  int upto(int most) { return static_cast<int>(engine_() % static_cast<unsigned>(most + 1)); }
  bool heads() { return engine_() % 2 == 0; }
  std::mt19937_64& engine() { return engine_; }

 private:
  std::mt19937_64 engine_;
};

inline MachineKind random_kind(Dice& dice, int number) {
  MachineKind kind;
  kind.id = "kind-" + std::to_string(number);
  kind.cut = {Cut::Kind::kDirect, 0, 0, 0, 0, dice.between(5, 500)};
  kind.cutting_share = dice.between(0.05, 0.6);
  double total = 0;
  for (ChipClass c : kAllClasses) total += kind.class_shares[c] = dice.between(0.05, 1);
  for (ChipClass c : kAllClasses) {
    kind.class_shares[c] /= total;
    kind.thrown[c] = {dice.between(-0.3, 1.2), dice.between(0.2, 1.5), dice.between(0.2, 1.5),
                      c == kFine ? 1e9 : dice.between(0.8, 2)};
  }
  kind.airborne_share = dice.between(0, 0.5);
  kind.airborne_median_um = dice.between(3, 30);
  kind.airborne_gsd = dice.between(1.2, 3);
  return kind;
}

/// Floors that tile most of the room, benches over them, ledges over both.
inline void add_zones(Dice& dice, double width, double depth, bool corner_cut, Shop& shop) {
  const auto add = [&](const std::string& id, ZoneKind kind, Polygon corners, double height,
                       double cover) {
    Zone zone;
    zone.id = id;
    zone.name = id;
    zone.kind = kind;
    zone.surface = kind == ZoneKind::kFloor ? Surface::kConcrete : Surface::kTop;
    zone.corners = std::move(corners);
    zone.height_m = height;
    zone.cover = cover;
    shop.zones.push_back(zone);
  };
  const double half_x = width / 2;
  const double half_y = depth / 2;
  for (int i = 0; i < 4; ++i) {
    if (corner_cut && i == 3) continue;
    const double x = i % 2 == 0 ? 0 : half_x;
    const double y = i < 2 ? 0 : half_y;
    const double inset = dice.between(0, 0.3);
    add("floor-" + std::to_string(i), ZoneKind::kFloor,
        rectangle(x + inset, y + inset, x + half_x - inset, y + half_y - inset), 0, 1);
    const double left = x + dice.between(0, half_x - 1.5);
    const double low = y + dice.between(0, half_y - 1);
    add("bench-" + std::to_string(i), ZoneKind::kTop, rectangle(left, low, left + 1.5, low + 0.8),
        0.8 + 0.05 * i, dice.heads() ? 1 : dice.between(0.3, 1));
    add("ledge-" + std::to_string(i), ZoneKind::kLedge,
        rectangle(left + 0.5, low + 0.2, left + 1.2, low + 0.6), 2 + 0.1 * i, dice.between(0.1, 1));
  }
}

inline Shop random_shop(unsigned seed, bool may_have_corner = true) {
  Dice dice(seed);
  Shop shop;
  shop.name = "Shop " + std::to_string(seed);
  const double width = dice.between(7, 16);
  const double depth = dice.between(6, 12);
  const bool corner_cut = may_have_corner && dice.heads();
  shop.outline = rectangle(0, 0, width, depth);
  if (corner_cut) {
    shop.outline = {
        {0, 0},    {width, 0}, {width, depth / 2}, {width / 2, depth / 2}, {width / 2, depth},
        {0, depth}};
  }
  shop.ceiling_m = dice.between(2.5, 5);
  add_zones(dice, width, depth, corner_cut, shop);
  for (int b = 0; b < 3; ++b) {
    Bin bin;
    bin.id = "bin-" + std::to_string(b);
    bin.name = bin.id;
    bin.volume_m3 = 1e3;  // roomy: filling up is a story of its own
    bin.at = {dice.between(0.5, width / 2), dice.between(0.5, depth / 2)};
    bin.keeps = {1, 1, 1, dice.between(0.5, 1)};
    shop.bins.push_back(bin);
  }
  shop.bins[0].keeps = {0.9, 0.9, 0.8, 0.5};
  shop.bins[0].then = 1;
  shop.collectors.push_back({"main",
                             "main",
                             CollectorKind::kCollector,
                             dice.between(0.3, 1),
                             {0, 1},
                             dice.heads(),
                             10,
                             1e9});
  shop.collectors.push_back({"own", "own", CollectorKind::kVac, 0.06, {2}, false, 1, 1e9});
  const int machines = 2 + dice.upto(4);
  for (int m = 0; m < machines; ++m) {
    shop.gates.push_back({"gate-" + std::to_string(m), "", 0, dice.between(0.08, 0.16), false});
    Machine machine;
    machine.id = "machine-" + std::to_string(m);
    machine.name = machine.id;
    machine.kind = random_kind(dice, m);
    machine.at = {dice.between(0.1, width / 2 - 0.1), dice.between(0.1, depth - 0.1)};
    machine.heading_rad = dice.between(0, 6.28);
    const int extraction = dice.upto(2);
    if (extraction == 0) {
      machine.gate = m;
      machine.collector = 0;
    } else if (extraction == 1) {
      machine.collector = 1;
    }
    for (ChipClass c : kAllClasses) {
      machine.capture[c] = machine.collector == kNone ? 0 : dice.between(0, 0.95);
    }
    shop.machines.push_back(machine);
  }
  shop.filters.push_back({"filter", "filter", dice.between(0, 0.3), {120, 240}, dice.heads()});
  shop.exhaust_m3_per_s = dice.between(0, 0.05);
  shop.tools.push_back({"vac", "vac", ToolKind::kVac, {0.5, 0.5}, 1});
  shop.tools.push_back({"broom", "broom", ToolKind::kBroom, {1, 0.5}, kNone});
  for (Surface surface : {Surface::kConcrete, Surface::kTop}) {
    shop.methods.push_back({ToolKind::kVac, surface, 4, 0.9});
  }
  shop.start = {1, 1};
  return shop;
}

inline Session random_session(unsigned seed, const Shop& shop) {
  Dice dice(seed ^ 0x5eed);
  Session session;
  session.id = "session";
  session.people = 1 + dice.upto(3);
  const int uses = 1 + dice.upto(5);
  for (int u = 0; u < uses; ++u) {
    Use use;
    use.machine = dice.upto(static_cast<int>(shop.machines.size()) - 1);
    use.minutes = dice.between(1, 120);
    use.stock.id = "stock";
    use.stock.specific_gravity = dice.between(0.3, 0.9);
    use.stock.moisture_percent = dice.between(6, 60);
    use.stock.finer_share = dice.heads() ? 0 : dice.between(0, 0.5);
    use.extraction = dice.upto(3) > 0;
    session.uses.push_back(use);
  }
  return session;
}

/// Dust carried over at random, every bin known to be empty.
inline ShopState random_state(unsigned seed, const Shop& shop) {
  Dice dice(seed ^ 0xca44);
  ShopState state = clean_state(shop);
  for (PerClass& zone : state.zones) {
    for (ChipClass c : kAllClasses) zone[c] = dice.heads() ? 0 : dice.between(0, 60);
  }
  for (BinState& bin : state.bins) bin.fill_share = 0;
  return state;
}

/// The same shop, turned by `angle_rad` about the origin and then moved.
inline Shop moved(Shop shop, double angle_rad, Point by) {
  const auto move = [&](Point& p) {
    p = Point{p.x * std::cos(angle_rad) - p.y * std::sin(angle_rad),
              p.x * std::sin(angle_rad) + p.y * std::cos(angle_rad)} +
        by;
  };
  for (Point& p : shop.outline) move(p);
  for (Zone& zone : shop.zones) {
    for (Point& p : zone.corners) move(p);
  }
  for (Machine& machine : shop.machines) {
    move(machine.at);
    machine.heading_rad += angle_rad;
  }
  for (Bin& bin : shop.bins) move(bin.at);
  for (CleaningTool& tool : shop.tools) move(tool.hangs_at);
  move(shop.start);
  return shop;
}

}  // namespace chipfall::test
