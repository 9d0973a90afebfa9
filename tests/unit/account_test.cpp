#include "core/dust/account.h"

#include <cmath>

#include <doctest/doctest.h>

#include "core/dust/removal.h"
#include "tests/unit/random_shop.h"
#include "tests/unit/small_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

SessionDust dust_in(const Shop& shop, const Session& session) {
  return dust_of(shop, overlay_of(shop), clean_state(shop), session);
}

Session one_use(Index machine, double minutes, bool extraction = true) {
  Session session;
  Use use;
  use.machine = machine;
  use.minutes = minutes;
  use.stock.specific_gravity = 0.63;
  use.extraction = extraction;
  session.uses.push_back(use);
  return session;
}

double settled_and_thrown_g(const SessionDust& dust) {
  double grams = sum(dust.open_floor.fallen_g);
  for (const ZoneDust& zone : dust.zones) grams += sum(zone.fallen_g);
  return grams;
}

}  // namespace

TEST_CASE("every gram is accounted for in 400 random shops") {
  for (unsigned seed = 0; seed < 400; ++seed) {
    CAPTURE(seed);
    const Shop shop = random_shop(seed);
    const Session session = random_session(seed, shop);
    const SessionDust dust = dust_of(shop, overlay_of(shop), random_state(seed, shop), session);
    // Summed anew from the parts, not from the account's own totals.
    double removed = 0, found = 0;
    for (const Use& use : session.uses) {
      removed += sum(removal_g(shop.machines[use.machine].kind, use.stock, use.minutes));
    }
    for (const BinDust& bin : dust.bins) found += sum(bin.caught_g);
    found += settled_and_thrown_g(dust) + dust.balance.filtered + dust.balance.vented +
             dust.air.airborne_g();
    CHECK(std::abs(removed - found) <= 1e-9 * removed);
    CHECK(std::abs(dust.balance.difference()) <= 1e-9 * removed);
    for (const ZoneDust& zone : dust.zones) {
      for (double grams : zone.fallen_g) CHECK(grams >= 0);
    }
    for (double grams : dust.open_floor.fallen_g) CHECK(grams >= 0);
  }
}

TEST_CASE("a table saw's minutes become the grams of its kerf") {
  const Shop shop = small_shop();
  const SessionDust dust = dust_in(shop, one_use(index_of(shop.machines, "saw-1"), 20));
  // 3 mm x 20 mm x 4 m/min x 20 min x 0.25 in the wood = 1200 cm3, at 0.63 and 12 % moisture.
  CHECK(dust.balance.removed == doctest::Approx(1200 * 0.63 * 1.12));
  CHECK(dust.uses[0].captured_g[kCoarse] ==
        doctest::Approx(0.75 * dust.uses[0].removed_g[kCoarse]));
}

TEST_CASE("removal, capture and throw grow in proportion to the minutes") {
  for (unsigned seed = 0; seed < 40; ++seed) {
    CAPTURE(seed);
    const Shop shop = random_shop(seed);
    Session session = random_session(seed, shop);
    session.uses.resize(1);
    const SessionDust once = dust_in(shop, session);
    session.uses[0].minutes *= 3;
    const SessionDust thrice = dust_in(shop, session);
    CHECK(thrice.balance.removed == doctest::Approx(3 * once.balance.removed).epsilon(1e-12));
    CHECK(thrice.balance.in_bins == doctest::Approx(3 * once.balance.in_bins).epsilon(1e-12));
    REQUIRE(thrice.machines.size() == 1);
    for (size_t z = 0; z < shop.zones.size(); ++z) {
      CHECK(thrice.machines[0].zones_g[z] ==
            doctest::Approx(3 * once.machines[0].zones_g[z]).epsilon(1e-12));
    }
  }
}

TEST_CASE("with extraction off everything escapes") {
  const Shop shop = small_shop();
  const SessionDust dust = dust_in(shop, one_use(index_of(shop.machines, "saw-1"), 20, false));
  CHECK(dust.balance.in_bins == 0);
  CHECK(sum(dust.uses[0].escaped_g) == doctest::Approx(dust.balance.removed));
}

TEST_CASE("a full bin lowers capture, so the ring around its machine grows") {
  const Shop shop = small_shop();
  const Session session = one_use(index_of(shop.machines, "sander-1"), 20);
  ShopState state = clean_state(shop);
  const Overlay overlay = overlay_of(shop);
  const SessionDust roomy = dust_of(shop, overlay, state, session);
  state.bins[index_of(shop.bins, "tub")].fill_share = 1;
  const SessionDust full = dust_of(shop, overlay, state, session);
  CHECK(full.uses[0].capture_factor == doctest::Approx(0.3));
  CHECK(full.balance.in_bins == doctest::Approx(0.3 * roomy.balance.in_bins));
  CHECK(full.balance.on_zones > roomy.balance.on_zones);
}

TEST_CASE("a bin that fills up during the session chokes the later use, not the earlier one") {
  Shop shop = small_shop();
  shop.bins[index_of(shop.bins, "tub")].volume_m3 = 1e-4;
  Session session = one_use(index_of(shop.machines, "sander-1"), 30);
  session.uses.push_back(session.uses[0]);
  const SessionDust dust = dust_in(shop, session);
  CHECK(dust.uses[0].capture_factor == 1);
  CHECK(dust.uses[1].capture_factor == doctest::Approx(0.3));
}

TEST_CASE("a collector that blows outdoors vents what its filter lets pass") {
  Shop shop = small_shop();
  const Session session = one_use(index_of(shop.machines, "saw-1"), 20);
  const SessionDust indoors = dust_in(shop, session);
  shop.collectors[0].outdoors = true;
  shop.exhaust_m3_per_s = 0;
  const SessionDust outdoors = dust_in(shop, session);
  CHECK(outdoors.balance.vented > 0);
  CHECK(outdoors.emissions[0].grams < indoors.emissions[0].grams);
}

TEST_CASE("nothing used makes nothing") {
  const Shop shop = small_shop();
  const SessionDust dust = dust_in(shop, Session());
  CHECK(dust.balance.removed == 0);
  CHECK(dust.balance.difference() == 0);
  CHECK(settled_and_thrown_g(dust) == 0);
}

TEST_CASE("pressed board breaks finer than solid wood") {
  MachineKind kind;
  kind.class_shares = {0.5, 0.3, 0.15, 0.05};
  Stock board;
  board.finer_share = 0.4;
  const PerClass shares = class_shares(kind, board);
  CHECK(sum(shares) == doctest::Approx(1));
  CHECK(shares[kFine] == doctest::Approx(0.05 + 0.4 * 0.95));
  CHECK(shares[kShavings] == doctest::Approx(0.3));
}
