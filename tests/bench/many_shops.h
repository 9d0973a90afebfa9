#pragma once

#include <string>

#include "core/shop/load.h"
#include "core/shop/session.h"

namespace chipfall::bench {

/// The demo shop, its fullest evening and the state it began in.
struct Case {
  Shop shop;
  Session session;
  ShopState state;
};
Case demo_evening();

/// `copies` demo shops side by side under one roof, joined into one room by a corridor along their
/// south wall, each with its own evening: `copies` times the machines, zones, bins and uses.
Case many_shops(int copies);

}  // namespace chipfall::bench
