#pragma once

#include <string>
#include <vector>

#include "core/duty/lock_up.h"
#include "core/shop/load.h"
#include "tests/unit/random_shop.h"
#include "tests/unit/small_shop.h"

/// Shops to close and duties that were left over, for tests.
namespace chipfall::test {

/// The small shop with the standard duties, and without any station.
inline Shop shop_to_close() {
  Shop shop = small_shop();
  shop.duties = builtin_library().duties;
  return shop;
}

inline PendingDuty pending_zone(const Shop& shop, const std::string& zone, double minutes = 4) {
  PendingDuty out;
  out.id = "zone:" + zone;
  out.title = zone + ": Vac";
  out.kind = "zone";
  out.zone = zone;
  out.place = shop.zones[index_of(shop.zones, zone)].name;
  out.minutes = minutes;
  out.weight = 0.2;
  out.age_minutes = 120;
  out.session_device = "A";
  out.session_sequence = 7;
  return out;
}

inline PendingDuty pending_bin(const std::string& bin) {
  PendingDuty out;
  out.id = "empty-bin:" + bin;
  out.title = bin + ": empty it";
  out.kind = "bin";
  out.bin = bin;
  out.place = bin;
  out.minutes = 5;
  out.weight = 0.08;
  out.age_minutes = 1500;
  return out;
}

/// Anything that lists leave over, some of it twice, some of it of a shop that has changed since.
inline std::vector<PendingDuty> random_pending(Dice& dice, const Shop& shop) {
  std::vector<PendingDuty> out;
  const int count = dice.upto(12);
  for (int i = 0; i < count; ++i) {
    PendingDuty one;
    const int kind = dice.upto(5);
    if (kind <= 1) {
      one = pending_zone(shop, shop.zones[dice.upto(static_cast<int>(shop.zones.size()) - 1)].id);
    } else if (kind == 2) {
      one = pending_bin(shop.bins[dice.upto(static_cast<int>(shop.bins.size()) - 1)].id);
    } else if (kind == 3) {
      one.machine = shop.machines[dice.upto(static_cast<int>(shop.machines.size()) - 1)].id;
      one.id = "reset:" + one.machine;
      one.kind = "reset";
    } else if (kind == 4) {
      one.id = "collector-off:" + shop.collectors[0].id;
      one.kind = "close";
    } else {
      one.id = "zone:gone-" + std::to_string(dice.upto(3));
      one.kind = "zone";
      one.zone = "gone";
      one.place = "A corner that is no more";
    }
    if (one.title.empty()) one.title = one.id;
    one.minutes = dice.between(0.3, 9);
    one.weight = dice.between(0, 0.4);
    one.safety = dice.upto(4) == 0;
    one.passed_on = dice.heads();
    if (one.passed_on && dice.heads()) one.reason = dice.heads() ? "no time" : "no tool";
    one.age_minutes = dice.between(0, 20000);
    one.session_device = dice.heads() ? "A" : "B";
    one.session_sequence = static_cast<std::uint64_t>(dice.upto(100));
    out.push_back(one);
  }
  return out;
}

/// Stations anywhere, of any kind that is one.
inline Shop random_shop_to_close(unsigned seed) {
  Dice dice(seed ^ 0xc105e);
  Shop shop = random_shop(seed);
  shop.duties = builtin_library().duties;
  shop.gates.front().floor_inlet = dice.heads();
  const int stations = dice.upto(14);
  for (int i = 0; i < stations; ++i) {
    const int kind = static_cast<int>(PlaceKind::kDoor) + dice.upto(11);
    if (static_cast<PlaceKind>(kind) == PlaceKind::kWayOut) continue;
    const std::string id = "station-" + std::to_string(i);
    shop.stations.push_back(
        {id, id, static_cast<PlaceKind>(kind), Point{dice.between(0, 10), dice.between(0, 8)}});
  }
  if (dice.heads()) shop.stations.push_back({"out", "Out", PlaceKind::kWayOut, {3, 0}});
  return shop;
}

}  // namespace chipfall::test
