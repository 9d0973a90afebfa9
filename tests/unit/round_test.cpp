#include "core/crew/round.h"

#include <algorithm>

#include <doctest/doctest.h>

#include "core/duty/minutes.h"
#include "core/duty/rules.h"
#include "tests/unit/small_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

constexpr double kNow = 20'780.5;

/// The small shop, its bins known and empty, and a supply of bags for the bag.
struct Asked {
  Shop shop = small_shop();
  std::vector<BinOutlook> bins;
  RoundAsk ask;

  Asked() {
    shop.duties = builtin_library().duties;
    shop.supplies = {{"bags", "Plastic bags", "bags", 2}};
    shop.bins[1].bag = 0;
    for (size_t b = 0; b < shop.bins.size(); ++b) {
      BinOutlook& bin = bins.emplace_back();
      bin.bin = static_cast<Index>(b);
      bin.known = true;
      bin.bulk_kg_per_m3 = 200;
    }
  }
  void fill(const std::string& id, double fill, double chance_full) {
    BinOutlook& bin = bins[index_of(shop.bins, id)];
    bin.expected_fill = fill;
    bin.chance_full = chance_full;
  }
  Round round() const { return plan_round(shop, bins, ask, kNow); }
  std::vector<std::string> order() const {
    std::vector<std::string> ids;
    for (const RoundStop& stop : round().stops) ids.push_back(shop.bins[stop.bin].id);
    return ids;
  }
};

using Ids = std::vector<std::string>;

}  // namespace

TEST_CASE("no bin is on the round that is neither full, nor due, nor full before the next one") {
  Asked asked;
  CHECK(asked.order().empty());
  CHECK(asked.round().minutes == 0);
  CHECK(asked.round().cautions.empty());
}

TEST_CASE("a bin is on the round from the asked chance of being full on") {
  Asked asked;
  asked.fill("tub", 0.5, 0.49);
  CHECK(asked.order().empty());
  asked.fill("tub", 0.5, 0.5);
  CHECK(asked.order() == Ids{"tub"});
  asked.ask.sure = 0.8;
  CHECK(asked.order().empty());
}

TEST_CASE("a bin is on the round when its expected fill is due") {
  Asked asked;
  asked.fill("drum", 0.79, 0.1);
  CHECK(asked.order().empty());
  asked.fill("drum", 0.8, 0.1);  // its empty_at
  CHECK(asked.order() == Ids{"drum"});
}

TEST_CASE("a bin that will probably be full before the next round is on this one") {
  Asked asked;
  asked.bins[3].full.days_to_half_chance = 6;
  CHECK(asked.order().empty());
  asked.ask.next_round_days = 6;
  CHECK(asked.order().empty());
  asked.ask.next_round_days = 7;
  CHECK(asked.order() == Ids{"trash"});
  CHECK(asked.round().stops[0].why == "probably full by Sunday, before the next round");
}

TEST_CASE("a bin that somebody may have emptied unsaid is looked into, not carried") {
  Asked asked;
  asked.fill("drum", 1.2, 0.99);
  asked.bins[0].look_first = true;
  asked.bins[2].known = false;
  asked.fill("tub", 0.5, 0.5);  // of which nobody knows anything
  CHECK(asked.order().empty());
  CHECK(asked.round().looks == std::vector<Index>{0});
}

TEST_CASE("minutes are the duty's, those for the litres, and the walk") {
  Asked asked;
  asked.fill("trash", 1.2, 0.99);
  const Round round = asked.round();
  const double walk = walk_minutes(distance(asked.shop.start, asked.shop.bins[3].at));
  CHECK(round.stops[0].litres == doctest::Approx(120));  // not more than it holds
  CHECK(round.stops[0].minutes == doctest::Approx(3 + 120 * kEmpty_minutes_per_l));
  CHECK(round.minutes == doctest::Approx(round.stops[0].minutes + walk));
}

TEST_CASE("a heavy bin takes the shop's people for a heavy bag, an emptier one a single person") {
  Asked asked;
  asked.fill("drum", 1, 0.9);
  Round round = asked.round();
  CHECK(round.stops[0].kg == doctest::Approx(9 + 200 * 0.2));
  CHECK(*round.stops[0].lifting_index > 1);
  CHECK(round.people == 3);
  CHECK(round.stops[0].cautions.size() == 1);
  asked.bins[0].bulk_kg_per_m3 = 5;
  round = asked.round();
  CHECK(*round.stops[0].lifting_index < 1);
  CHECK(round.people == 1);
}

TEST_CASE("the round names the bags to carry, and how many there are") {
  Asked asked;
  asked.fill("bag", 1, 0.9);
  asked.fill("trash", 1, 0.9);
  asked.ask.supplies_left = {4};
  const Round round = asked.round();
  REQUIRE(round.bags.size() == 1);
  CHECK(round.bags[0].count == 1);
  CHECK(round.bags[0].left == 4);
}

TEST_CASE("stops stand in the order in which the route walks them") {
  Asked asked;
  for (const char* id : {"drum", "bag", "trash"}) asked.fill(id, 1, 0.9);
  RouteProblem seen;
  const Round round = plan_round(asked.shop, asked.bins, asked.ask, kNow,
                                 [&](const RouteProblem& problem) -> Route {
                                   seen = problem;
                                   return {{3, 1, 2}, 5, 4, true};
                                 });
  CHECK(seen.minutes.size() == 4);
  CHECK(seen.minutes[0][0] == walk_minutes(0));
  CHECK(asked.shop.bins[round.stops[0].bin].id == "trash");
  CHECK(asked.shop.bins[round.stops[1].bin].id == "drum");
  CHECK(round.walk_minutes == 5);
  CHECK(round.proven);
}

TEST_CASE("the round's cautions speak of mask, lock-out, heat, sparks and local codes") {
  Asked asked;
  asked.fill("trash", 1, 0.9);
  std::string all;
  for (const std::string& caution : asked.round().cautions) all += caution + " ";
  for (const char* word : {"Eye protection", "mask", "lock them out", "Warm", "sparks", "explode",
                           "local codes", "trained people"}) {
    CAPTURE(word);
    CHECK(all.find(word) != std::string::npos);
  }
}
