#include "core/duty/rules.h"

#include <algorithm>

#include <doctest/doctest.h>

#include "core/duty/order.h"
#include "core/duty/wind_down.h"
#include "tests/unit/small_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

/// The small shop with the duties that come with the program.
Shop shop_with_duties() {
  Shop shop = small_shop();
  shop.duties = builtin_library().duties;
  for (Machine& machine : shop.machines) machine.kind.resets.clear();
  shop.machines[0].kind.resets = {"close-gate", "release-stop", "guard-back", "wipe-table"};
  return shop;
}

Use use_of(const Shop& shop, const std::string& machine, double minutes,
           const std::string& stock = "oak") {
  Use use;
  use.machine = index_of(shop.machines, machine);
  use.minutes = minutes;
  use.stock = *shop.stock(stock);
  return use;
}

struct Asked {
  Shop shop = shop_with_duties();
  ShopState state = clean_state(shop);
  Session session;
  WindDown list() const { return wind_down(shop, overlay_of(shop), state, session); }
};

bool has(const Asked& asked, const std::string& id) {
  const WindDown list = asked.list();
  return std::ranges::any_of(list.duties, [&](const Duty& duty) { return duty.id == id; });
}

Duty get(const Asked& asked, const std::string& id) {
  const WindDown list = asked.list();
  for (const Duty& duty : list.duties) {
    if (duty.id == id) return duty;
  }
  FAIL("no duty " << id);
  return {};
}

}  // namespace

TEST_CASE("a used machine is left as found in one visit, safe steps first") {
  Asked asked;
  asked.session.uses = {use_of(asked.shop, "saw-1", 1)};
  const Duty reset = get(asked, "reset:saw-1");
  REQUIRE(reset.steps.size() == 4);
  CHECK(reset.steps[0].find("Guard") != std::string::npos);
  CHECK(reset.safety);
  CHECK(reset.phase == Phase::kSafe);
  for (const std::string& step : reset.steps) CHECK(step.find('{') == std::string::npos);
  CHECK(!has(asked, "reset:lathe-1"));
}

TEST_CASE("a table that is on the list is not brushed a second time") {
  Asked asked;
  asked.session.uses = {use_of(asked.shop, "saw-1", 60)};
  REQUIRE(has(asked, "zone:saw-table"));
  CHECK(get(asked, "reset:saw-1").steps.size() == 3);
}

TEST_CASE("a machine without a gate is not asked to close one") {
  Asked asked;
  asked.shop.machines[0].gate = kNone;
  asked.session.uses = {use_of(asked.shop, "saw-1", 1)};
  CHECK(get(asked, "reset:saw-1").steps.size() == 3);
}

TEST_CASE("sparks ask for a look round the grinder") {
  Asked asked;
  asked.session.uses = {use_of(asked.shop, "grinder-1", 5, "steel")};
  CHECK(get(asked, "spark-check:grinder-1").safety);
  asked.session.uses = {use_of(asked.shop, "lathe-1", 5)};
  CHECK(!has(asked, "spark-check:grinder-1"));
}

TEST_CASE("a look for heat comes before everything else") {
  Asked asked;
  asked.session.uses = {use_of(asked.shop, "saw-1", 20),
                        use_of(asked.shop, "grinder-1", 5, "steel")};
  CHECK(asked.list().duties.front().id == "spark-check:grinder-1");
}

TEST_CASE("metal grit is never vacuumed into wood dust") {
  Asked asked;
  asked.session.uses = {use_of(asked.shop, "grinder-1", 120, "steel")};
  const WindDown list = asked.list();
  bool met = false;
  for (const Duty& duty : list.duties) {
    if (duty.kind != DutyKind::kZone) continue;
    met = true;
    CHECK((duty.tool == kNone || asked.shop.tools[duty.tool].kind != ToolKind::kVac));
    CHECK(duty.caution.find("Metal grit") != std::string::npos);
  }
  CHECK(met);
}

TEST_CASE("oily rags, glue and scraps come up only when there were any") {
  Asked asked;
  asked.session.uses = {use_of(asked.shop, "lathe-1", 5)};
  for (const char* id : {"rags-to-can", "glue-clean", "scraps-to-size"}) CHECK(!has(asked, id));
  CHECK(has(asked, "tools-home"));
  asked.session.oily_rags = asked.session.glue = true;
  asked.session.uses = {use_of(asked.shop, "saw-1", 5)};
  for (const char* id : {"rags-to-can", "glue-clean", "scraps-to-size"}) CHECK(has(asked, id));
  CHECK(get(asked, "rags-to-can").safety);
}

TEST_CASE("a bin is emptied when this session brings it to its mark, not before") {
  Asked asked;
  asked.session.uses = {use_of(asked.shop, "saw-1", 30)};
  const Index drum = index_of(asked.shop.bins, "drum");
  asked.state.bins[drum].fill_share = 0.2;
  CHECK(!has(asked, "empty-bin:drum"));
  asked.state.bins[drum].fill_share = 0.795;
  const Duty empty = get(asked, "empty-bin:drum");
  CHECK(empty.phase == Phase::kBins);
  CHECK(empty.why.find("empty it at 80 %") != std::string::npos);
}

TEST_CASE("a bin that nobody has looked into is looked at when much went in") {
  Asked asked;
  asked.shop.bins[index_of(asked.shop.bins, "drum")].volume_m3 = 0.005;
  asked.session.uses = {use_of(asked.shop, "saw-1", 30)};
  CHECK(has(asked, "look-at-bin:drum"));
  CHECK(!has(asked, "empty-bin:drum"));
}

TEST_CASE("a full vac is emptied before anybody cleans with it") {
  Asked asked;
  asked.session.uses = {use_of(asked.shop, "saw-1", 60)};
  asked.state.bins[index_of(asked.shop.bins, "tub")].fill_share = 0.9;
  const WindDown list = asked.list();
  size_t emptied = list.duties.size();
  for (size_t i = 0; i < list.duties.size(); ++i) {
    const Duty& duty = list.duties[i];
    if (duty.id == "empty-bin:tub") emptied = i;
    if (duty.tool != kNone && asked.shop.tools[duty.tool].kind == ToolKind::kVac) {
      CHECK(emptied < i);
      CHECK(std::ranges::count(duty.after, "empty-bin:tub") == 1);
    }
  }
  CHECK(emptied < list.duties.size());
}

TEST_CASE("a bin too heavy for one asks for help, and says what it weighs") {
  Asked asked;
  Bin& drum = asked.shop.bins[index_of(asked.shop.bins, "drum")];
  asked.session.uses = {use_of(asked.shop, "saw-1", 30)};
  asked.state.bins[index_of(asked.shop.bins, "drum")].fill_share = 0.9;
  const Duty heavy = get(asked, "empty-bin:drum");
  CHECK(heavy.people == asked.shop.policy.people_per_heavy_bag);
  CHECK(heavy.caution.find("people lift it") != std::string::npos);
  drum.volume_m3 = 0.002;
  drum.tare_kg = 0.5;
  CHECK(get(asked, "empty-bin:drum").people == 1);
}

TEST_CASE("a filter is cleaned when its fine dust has come to its mark") {
  Asked asked;
  asked.session.uses = {use_of(asked.shop, "saw-1", 10)};
  CHECK(!has(asked, "clean-filter:main"));
  asked.state.bins[index_of(asked.shop.bins, "bag")].filter_fine_g = 800;
  CHECK(has(asked, "clean-filter:main"));
}

TEST_CASE("the collector is run on and switched off when it ran, and only then") {
  Asked asked;
  asked.session.uses = {use_of(asked.shop, "saw-1", 10)};
  CHECK(get(asked, "collector-off:main").title.find("10") != std::string::npos);
  asked.session.uses[0].extraction = false;
  CHECK(!has(asked, "collector-off:main"));
}

TEST_CASE("ceiling filters are set to the first step that clears the air") {
  Asked asked;
  asked.session.uses = {use_of(asked.shop, "sander-1", 60)};
  const WindDown list = asked.list();
  REQUIRE(list.air.mg_per_m3 > kTimerAbove_mg_per_m3);
  CHECK(list.air.clearance_minutes <= 120);
  CHECK(list.air.timer_minutes == 120);
  CHECK(get(asked, "ceiling-filter").title.find("120") != std::string::npos);
  asked.shop.filters[0].clean_air_m3_per_s /= 1e3;
  asked.shop.filters[0].timer_steps_minutes = {5, 10};
  CHECK(asked.list().air.timer_minutes == 10);
  asked.shop.filters.clear();
  CHECK(!has(asked, "ceiling-filter"));
}

TEST_CASE("a session owes the shop for its fine dust, more for more, within bounds") {
  Asked asked;
  asked.state.zones[index_of(asked.shop.zones, "shelf")][kFine] = 50;
  asked.session.uses = {use_of(asked.shop, "sander-1", 5)};
  const Duty little = get(asked, "common-dust");
  CHECK(asked.shop.zones[little.zone].id == "shelf");
  asked.session.uses[0].minutes = 60;
  const Duty more = get(asked, "common-dust");
  CHECK(more.minutes > little.minutes);
  asked.session.uses[0].minutes = 1000;
  CHECK(get(asked, "common-dust").minutes == kMostCommon_minutes);
}

TEST_CASE("the closing volunteer's duties stay off the member's list") {
  Asked asked;
  StandardDuty locking = asked.shop.duties[0];
  locking.id = "lock-doors";
  locking.when = When::kLockUp;
  asked.shop.duties.push_back(locking);
  CHECK(!has(asked, "lock-doors"));
}

TEST_CASE("the last look ends the list") {
  Asked asked;
  asked.session = small_session();
  asked.session.uses = {use_of(asked.shop, "saw-1", 30), use_of(asked.shop, "lathe-1", 30)};
  CHECK(asked.list().duties.back().id == "last-look");
}
