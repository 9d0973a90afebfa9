#include <algorithm>
#include <filesystem>
#include <fstream>
#include <set>

#include <doctest/doctest.h>

#include "core/crew/closing.h"
#include "core/duty/wind_down.h"
#include "core/shop/load.h"

using namespace chipfall;

namespace {

const std::string kChecklists = CHIPFALL_SOURCE_DIR "/checklists/";

Text text_of(const std::string& name) {
  std::ifstream in(kChecklists + name, std::ios::binary);
  REQUIRE_MESSAGE(in.good(), name);
  return {name, {std::istreambuf_iterator<char>(in), {}}};
}

template <typename T>
T loaded(const Result<T>& result) {
  if (!result) {
    for (const Error& error : result.error()) MESSAGE(error.text());
  }
  REQUIRE(result.has_value());
  return *result;
}

Shop demo_shop() { return loaded(load_shop(text_of("otter-bend.textproto"), builtin_library())); }

std::vector<Session> demo_sessions(const Shop& shop) {
  std::vector<Session> sessions;
  for (const auto& file : std::filesystem::directory_iterator(kChecklists + "sessions")) {
    sessions.push_back(
        loaded(load_session(text_of("sessions/" + file.path().filename().string()), shop)));
  }
  return sessions;
}

const Session& named(const std::vector<Session>& sessions, const std::string& id) {
  const auto it = std::ranges::find(sessions, id, &Session::id);
  REQUIRE_MESSAGE(it != sessions.end(), id);
  return *it;
}

}  // namespace

TEST_CASE("the library has the machines, stocks and methods that a shop needs") {
  const Library library =
      loaded(load_library({text_of("machines.textproto"), text_of("stocks.textproto"),
                           text_of("methods.textproto"), text_of("duties.textproto")}));
  CHECK(library.machine_kinds.size() >= 20);
  CHECK(library.stocks.size() >= 25);
  for (const char* kind :
       {"table-saw", "band-saw", "jointer", "thickness-planer", "drum-sander", "belt-sander",
        "disc-sander", "random-orbital-sander", "router-table", "shaper", "wood-lathe",
        "drill-press", "mortiser", "cnc-router", "hand-plane", "carving", "bench-grinder"}) {
    CHECK_MESSAGE(library.machine_kind(kind) != nullptr, kind);
  }
  for (const char* stock : {"western-red-cedar", "mdf"}) {
    REQUIRE_MESSAGE(library.stock(stock) != nullptr, stock);
    CHECK_MESSAGE(!library.stock(stock)->health.empty(), stock);
  }
  // What is built in is what stands in the files.
  CHECK(builtin_library().machine_kinds.size() == library.machine_kinds.size());
  CHECK(builtin_library().stocks.size() == library.stocks.size());
  CHECK(builtin_library().methods.size() == library.methods.size());
  CHECK(builtin_library().duties.size() == library.duties.size());
}

TEST_CASE("the demo shop is an L with machines, zones and bins enough to be real") {
  const Shop shop = demo_shop();
  CHECK(shop.outline.size() == 6);
  CHECK(shop.machines.size() >= 14);
  CHECK(shop.zones.size() >= 24);
  CHECK(shop.bins.size() == 10);
  std::set<CollectorKind> extraction;
  for (const Collector& collector : shop.collectors) extraction.insert(collector.kind);
  CHECK(extraction.size() == 3);
  const auto count = [&](ZoneKind kind) {
    return std::ranges::count(shop.zones, kind, &Zone::kind);
  };
  CHECK(count(ZoneKind::kTop) > 0);
  CHECK(count(ZoneKind::kLedge) > 0);
}

TEST_CASE("every demo session loads, balances and gives a list that a person can do") {
  const Shop shop = demo_shop();
  const Overlay overlay = overlay_of(shop);
  const ShopState state = loaded(load_state(text_of("otter-bend-state.textproto"), shop));
  const std::vector<Session> sessions = demo_sessions(shop);
  CHECK(sessions.size() >= 5);
  for (const Session& session : sessions) {
    CAPTURE(session.id);
    const WindDown list = wind_down(shop, overlay, state, session);
    CHECK(std::abs(list.dust.balance.difference()) <= 1e-9 * list.dust.balance.removed);
    CHECK(list.minutes_median >= shop.policy.minimum_minutes);
    CHECK(list.minutes_median < 120);
    for (const Duty& duty : list.duties) {
      CAPTURE(duty.id);
      CHECK(duty.minutes > 0);
      CHECK(duty.minutes < 30);
      CHECK(duty.title.find('{') == std::string::npos);
      CHECK(duty.why.find('{') == std::string::npos);
      CHECK(duty.caution.find('{') == std::string::npos);
      for (const std::string& step : duty.steps) CHECK(step.find('{') == std::string::npos);
    }
  }
}

TEST_CASE("a ten-minute drilling visit owes little, a table-building evening much more") {
  const Shop shop = demo_shop();
  const Overlay overlay = overlay_of(shop);
  const ShopState clean = clean_state(shop);
  const std::vector<Session> sessions = demo_sessions(shop);
  const WindDown visit = wind_down(shop, overlay, clean, named(sessions, "drilling-visit"));
  const WindDown evening = wind_down(shop, overlay, clean, named(sessions, "table-evening"));
  CHECK(visit.minutes_median <= 12);
  CHECK(evening.minutes_median > 3 * visit.minutes_median);
  CHECK(named(sessions, "table-evening").people == 4);
}

TEST_CASE(
    "the demo shop's lock-up is a walk past real places that one person does in half an hour") {
  const Shop shop = demo_shop();
  const ShopState state = loaded(load_state(text_of("otter-bend-state.textproto"), shop));
  const ClosingPlan plan = plan_closing(shop, lock_up(shop, state, {}, {}));
  CHECK(plan.list.duties.size() >= 20);
  CHECK(plan.list.duties.size() <= 30);
  for (const LockUpDuty& line : plan.list.duties) CHECK_MESSAGE(line.placed, line.duty.id);
  CHECK(plan.list.duties.back().duty.place == "Double door");
  CHECK(plan.evening.finish.minutes_median < 25);
  CHECK(plan.evening.finish.minutes_p80 < 35);
  CHECK(plan.walk_minutes <= 1.25 * plan.walk_bound_minutes);
  REQUIRE(plan.list.notes.size() == 1);  // the belt sander
}
