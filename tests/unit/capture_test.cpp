#include "core/dust/capture.h"

#include <doctest/doctest.h>

#include "tests/unit/small_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

/// Two saws on the small shop's main collector, both on branches of 125 mm.
Shop two_saws() {
  Shop shop = small_shop();
  Machine second = shop.machines[0];
  second.id = "saw-2";
  Gate gate = shop.gates[0];
  gate.id = "g2";
  second.gate = static_cast<Index>(shop.gates.size());
  shop.gates.push_back(gate);
  shop.machines.push_back(second);
  return shop;
}

Session saws_run(const Shop& shop, double second_from, std::vector<Index> left_open = {}) {
  Session session;
  Use use;
  use.minutes = 10;
  use.machine = 0;
  use.from_minute = 0;
  session.uses.push_back(use);
  use.machine = index_of(shop.machines, "saw-2");
  use.from_minute = second_from;
  session.uses.push_back(use);
  session.gates_left_open = std::move(left_open);
  return session;
}

}  // namespace

TEST_CASE("one open gate has all the air, two share it") {
  const Shop shop = two_saws();
  const double alone = shop.collectors[0].flow_m3_per_s / duct_area_m2(0.125);
  CHECK(alone > kTransportSpeed_m_per_s);
  const auto apart = run_uses(shop, saws_run(shop, 10));
  CHECK(apart[0].slowest_m_per_s == doctest::Approx(alone));
  CHECK(apart[0].factor == 1);
  CHECK(apart[1].factor == 1);
  const auto together = run_uses(shop, saws_run(shop, 0));
  CHECK(together[0].slowest_m_per_s == doctest::Approx(alone / 2));
  // 0.5 m3/s through 125 mm is 40.7 m/s: halved it still carries.
  CHECK(together[0].factor == doctest::Approx(1));
}

TEST_CASE("air below transport speed catches less, for as long as it is slow") {
  Shop shop = two_saws();
  shop.collectors[0].flow_m3_per_s = 20 * duct_area_m2(0.125);
  const auto half_the_time = run_uses(shop, saws_run(shop, 5));
  CHECK(half_the_time[0].slowest_m_per_s == doctest::Approx(10));
  CHECK(half_the_time[0].factor == doctest::Approx(0.75));
  CHECK(half_the_time[1].factor == doctest::Approx(0.75));
}

TEST_CASE("a gate left open takes its share from every use") {
  Shop shop = two_saws();
  shop.collectors[0].flow_m3_per_s = 20 * duct_area_m2(0.125);
  const Index sweep = index_of(shop.gates, "sweep");
  const auto running = run_uses(shop, saws_run(shop, 10, {sweep}));
  const double area = duct_area_m2(0.125) + duct_area_m2(0.1);
  CHECK(running[0].factor == doctest::Approx(duct_area_m2(0.125) / area));
}

TEST_CASE("a machine whose extraction is off opens no gate") {
  Shop shop = two_saws();
  Session session = saws_run(shop, 0);
  session.uses[1].extraction = false;
  const auto running = run_uses(shop, session);
  CHECK(running[0].slowest_m_per_s ==
        doctest::Approx(shop.collectors[0].flow_m3_per_s / duct_area_m2(0.125)));
  CHECK(running[1].slowest_m_per_s == 0);
}

TEST_CASE("uses without a start wait for the first free hands") {
  const Shop shop = small_shop();
  Session session;
  for (double minutes : {30, 10, 20}) {
    Use use;
    use.machine = index_of(shop.machines, "lathe-1");
    use.minutes = minutes;
    session.uses.push_back(use);
  }
  session.people = 1;
  CHECK(run_uses(shop, session)[2].from_minute == 40);
  session.people = 2;
  CHECK(run_uses(shop, session)[1].from_minute == 0);
  CHECK(run_uses(shop, session)[2].from_minute == 10);
}

TEST_CASE("a bin chokes its machines from nine tenths full") {
  CHECK(choke_factor(0) == 1);
  CHECK(choke_factor(0.9) == 1);
  CHECK(choke_factor(0.95) == doctest::Approx(0.65));
  CHECK(choke_factor(1) == doctest::Approx(0.3));
  CHECK(choke_factor(5) == doctest::Approx(0.3));
}

TEST_CASE("a chain keeps in each bin its share of what the last let pass") {
  const Shop shop = small_shop();
  const Chain chain = follow_chain(shop, shop.collectors[0], {0, 100, 100, 100});
  REQUIRE(chain.kept_g.size() == 2);
  CHECK(chain.kept_g[0][kChips] == doctest::Approx(98));
  CHECK(chain.kept_g[1][kChips] == doctest::Approx(2));
  double kept = chain.passed_g;
  for (const PerClass& bin : chain.kept_g) kept += sum(bin);
  CHECK(kept == doctest::Approx(300));
  CHECK(chain.passed_g > 0);
}
