#include "core/duty/coordinator.h"

#include <algorithm>

#include <doctest/doctest.h>

#include "core/dust/layer.h"
#include "tests/unit/small_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

constexpr double kNow = 20'780.5;  // noon of Monday 23 November 2026
constexpr std::int64_t kDay_ms = 86'400'000;

double utc_day(std::int64_t at_ms) { return static_cast<double>(at_ms) / kDay_ms; }

std::int64_t ms_ago(double days) { return static_cast<std::int64_t>((kNow - days) * kDay_ms); }

struct Shelf {
  Shop shop = small_shop();
  std::vector<SupplyFact> facts;
  BinPasts bins;

  Shelf() {
    shop.supplies = {{"bags", "Plastic bags", "bags", 2}, {"masks", "Masks", "pieces", 5}};
    shop.bins[1].bag = 0;
    bins.bins.resize(shop.bins.size());
  }
  SupplyStock of(Index supply) const {
    const auto stocks = supplies_left(shop, facts, bins, utc_day, kNow);
    return *std::ranges::find(stocks, supply, &SupplyStock::supply);
  }
};

bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("bags left are counted from what was told, less one for each that was replaced") {
  Shelf stock;
  CHECK(!stock.of(0).left);
  stock.facts = {{"a", ms_ago(20), "bags", true, 1}, {"b", ms_ago(15), "bags", false, 6}};
  CHECK(stock.of(0).left == 7);
  CHECK(!stock.of(0).low);
  stock.bins.bins[1].bags_replaced = {kNow - 30, kNow - 10, kNow - 5, kNow - 3, kNow - 2, kNow - 1};
  CHECK(stock.of(0).left == 2);
  CHECK(stock.of(0).low);
  CHECK(stock.of(0).text == "bags left: 2; order now (the sheet says at 2)");
  stock.facts.push_back(stock.facts[1]);
  std::ranges::reverse(stock.facts);
  CHECK(stock.of(0).left == 2);  // told twice, arrived in any order
}

TEST_CASE("a supply that is told to be low without a figure stays low until restocked") {
  Shelf stock;
  stock.facts = {{"a", ms_ago(2), "masks", true, {}}};
  CHECK(stock.of(1).low);
  CHECK(stock.of(1).text == "told to be low on Saturday; nobody said how many pieces are left");
  const auto stocks = supplies_left(stock.shop, stock.facts, stock.bins, utc_day, kNow);
  CHECK(stocks[0].supply == 1);  // low ones first
  stock.facts.push_back({"b", ms_ago(1), "masks", false, {}});
  CHECK(!stock.of(1).low);
  CHECK(!stock.of(1).left);
}

TEST_CASE("a layer is told with the day on which it reaches the limit") {
  const Shop shop = small_shop();
  const double limit = layer_limit_g_per_m2();
  LayerNow layer;
  layer.zone = 0;
  layer.area_m2 = 2;
  layer.lying_g[kFine] = limit;       // half of the limit over 2 m2
  layer.weekly_g[kFine] = limit / 5;  // five more weeks
  layer.weekly_g[kShavings] = 1e6;    // burns not as dust
  const auto notices = layer_notices(shop, {layer}, kNow);
  REQUIRE(notices.size() == 1);
  CHECK(notices[0].share_of_limit == doctest::Approx(0.5));
  CHECK(*notices[0].days_to_limit == doctest::Approx(35));
  CHECK(has(notices[0].text, "50 % of the housekeeping limit"));
  CHECK((has(notices[0].text, "Monday 28 December") || has(notices[0].text, "Sunday 27 December")));
}

TEST_CASE("layers far from the limit are not told, those over it come first and say what burns") {
  const Shop shop = small_shop();
  const double limit = layer_limit_g_per_m2();
  LayerNow thin;
  thin.area_m2 = 1;
  thin.lying_g[kCoarse] = 0.4 * limit;
  LayerNow near_by = thin;
  near_by.lying_g[kCoarse] = 0.6 * limit;
  LayerNow over = thin;
  over.zone = 1;
  over.lying_g[kCoarse] = 1.1 * limit;
  const auto notices = layer_notices(shop, {thin, near_by, over}, kNow);
  REQUIRE(notices.size() == 2);
  CHECK(notices[0].zone == 1);
  CHECK(notices[0].days_to_limit == 0);
  CHECK(has(notices[0].text, "Dust burns and can explode"));
  CHECK(!notices[1].days_to_limit);
  CHECK(has(notices[1].text, "Open floor"));
}

TEST_CASE("estimates are held against what was taken, by week and kind") {
  std::vector<TimedDuty> timed;
  for (int i = 0; i < 4; ++i) {
    timed.push_back({kNow - 3 - i, DutyKind::kZone, 5, 7});
    timed.push_back({kNow - 3 - i, DutyKind::kReset, 3, 3});
  }
  timed.push_back({kNow - 3, DutyKind::kZone, 5, 400});  // a forgotten phone
  timed.push_back({kNow - 3, DutyKind::kZone, 0, 4});
  timed.push_back({kNow - 60, DutyKind::kZone, 5, 5});  // too long ago
  timed.push_back({kNow - 1, DutyKind::kBin, 4, 5});
  const auto weeks = estimates_held(timed, kNow);
  REQUIRE(weeks.size() == 3);
  CHECK(weeks[0].monday == 20'773);
  CHECK(weeks[0].kind == DutyKind::kZone);
  CHECK(weeks[0].duties == 4);
  CHECK(weeks[0].text ==
        "Cleaning zones, last week: 20 min promised, 28 min taken, over 4 duties: 40 % longer, "
        "which the next lists allow for");
  CHECK(has(weeks[1].text, "the estimates held"));
  CHECK(weeks[2].text.empty());  // one duty says nothing
}

TEST_CASE("where the shop falls behind is told by place, never by person") {
  const Shop shop = small_shop();
  std::vector<ZoneEnding> endings;
  for (int i = 0; i < 6; ++i) {
    endings.push_back({0, kNow - i, i < 3});
    endings.push_back({1, kNow - i, i < 1});
    endings.push_back({2, kNow - 100 - i, true});
  }
  const auto behind = fallen_behind(shop, endings, kNow);
  REQUIRE(behind.size() == 1);
  CHECK(behind[0].zone == 0);
  CHECK(has(behind[0].text, "passed on 3 of 6 times in the last 8 weeks"));
}

TEST_CASE("before a machine is tagged out there are things to try, and things never to do") {
  const Shop shop = small_shop();
  std::string all;
  for (const std::string& step : first_things_to_try(shop, index_of(shop.machines, "saw-1"))) {
    all += step + " ";
  }
  for (const char* word : {"still latched", "permit", "breaker", "control box", "Never by-pass",
                           "trained people", "gate open"}) {
    CAPTURE(word);
    CHECK(has(all, word));
  }
  CHECK(first_things_to_try(shop, kNone).size() == 6);
}
