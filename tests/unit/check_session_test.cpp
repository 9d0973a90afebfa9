#include <doctest/doctest.h>

#include "tests/unit/broken.h"
#include "tests/unit/small_shop.h"

namespace chipfall::test {
namespace {

Errors session_mistakes(const std::string& text) {
  static const Shop shop = small_shop();
  return mistakes_of(load_session({"session", text}, shop));
}

Errors state_mistakes(const std::string& text) {
  static const Shop shop = small_shop();
  return mistakes_of(load_state({"state", text}, shop));
}

constexpr Broken kSession[] = {
    {R"(id: "evening")", "", "\nname", "id", "missing: give an id"},
    {"people: 2", "people: 51", "people", "people", "51 people is outside 1 to 50"},
    {"people: 2", "people: -1", "people", "people", "-1 people is outside 1 to 50"},
    {"minutes: 90", "minutes: 1441", "minutes: 1441", "minutes", "1441 min is outside 0 to 1440"},
    {"minutes: 90", "minutes: 25", "minutes: 25", "minutes",
     R"(the use of "saw-1" lasts to minute 30; make the session longer)"},
    {R"("21:30")", R"("24:30")", "leave_at", "leave_at", R"("24:30" is not a time of day)"},
    {R"("21:30")", R"("9.30pm")", "leave_at", "leave_at", "give HH:MM"},
    {R"(machine: "saw-1")", R"(machine: "saw-2")", "machine: \"saw-2", "uses[0].machine",
     R"("saw-2" is not a machine here; one of saw-1, sander-1, lathe-1, grinder-1; did you mean)"},
    {R"(machine: "saw-1" )", "", "uses { minutes: 20", "uses[0].machine",
     "missing: name a machine"},
    {R"(stock: "oak")", R"(stock: "oat")", "stock: \"oat", "uses[0].stock",
     R"(did you mean "oak"?)"},
    {R"( stock: "oak")", "", R"(uses { machine: "saw-1")", "uses[0].stock",
     "missing: name a stock"},
    {R"(stock: "oak")", R"(stock: "steel")", R"(stock: "steel" from)", "uses[0].stock",
     "saw-1 cuts wood; steel is metal"},
    {R"(stock: "steel")", R"(stock: "oak")", "stock: \"oak\" }", "uses[2].stock",
     "grinder-1 cuts metal; oak is wood"},
    {R"(stock: "steel")", R"(stock: "acrylic")", R"(stock: "acrylic")", "uses[2].stock",
     "grinder-1 cuts metal; acrylic is plastic"},
    {"minutes: 20", "minutes: 0", "minutes: 0", "uses[0].minutes", "more than 0 and at most 1440"},
    {"minutes: 20", "minutes: 1441", "minutes: 1441", "uses[0].minutes", "1441 min cannot be"},
    {"from_minute: 10", "from_minute: -10", "from_minute", "uses[0].from_minute",
     "-10 min is outside 0 to 1440"},
    {"moisture_percent: 35", "moisture_percent: 350", "moisture", "uses[1].moisture_percent",
     "350 % is outside 0 to 200 %"},
    {R"(minutes: 5 stock)", R"(minutes: 5 extraction: true stock)", "extraction: true stock",
     "uses[2].extraction", "grinder-1 has no extraction"},
    {R"(open: "sweep")", R"(open: "swep")", "gates_left_open", "gates_left_open[0]",
     R"(did you mean "sweep"?)"},
    {R"(open: "sweep")", R"(open: ["g1", "g1"])", "gates_left_open", "gates_left_open[1]",
     R"("g1" is listed twice)"},
    {"oily_rags: true", "oily_rags: yes", "yes", "", R"("oily_rags" is true or false, not "yes")"},
};

constexpr Broken kState[] = {
    {R"(bin: "drum")", R"(bin: "dum")", "bin: \"dum", "bins[0].bin", R"(did you mean "drum"?)"},
    {R"(bin: "drum")", R"(bin: "bag")", "bin: \"bag\" filter", "bins[1].bin", "listed twice"},
    {"fill_share: 0.5", "fill_share: 50", "fill_share", "bins[0].fill_share",
     "50 is outside 0 to 2"},
    {"filter_fine_g: 120", "filter_fine_g: -1", "filter_fine_g", "bins[1].filter_fine_g",
     "-1 g is outside"},
    {R"(zone: "shelf")", R"(zone: "self")", "zone: \"self", "zones[0].zone",
     R"(did you mean "shelf"?)"},
    {R"(zone: "shelf")", R"(zone: "")", "zone: \"\" coarse", "zones[1].zone", "listed twice"},
    {"fine_g: 40", "fine_g: inf", "fine_g: inf", "zones[0].fine_g", "inf is not a figure"},
    {"coarse_g: 10", "chips_g: -1", "chips_g", "zones[1].chips_g", "-1 g is outside"},
    {R"("lathe-1")", R"("lathe")", "out_of_order", "out_of_order[0]", R"(did you mean "lathe-1"?)"},
};

TEST_CASE("each mistake in a session is named where it stands") {
  check_broken(small_session_text(), kSession, session_mistakes);
}
TEST_CASE("each mistake in a state is named where it stands") {
  check_broken(small_state_text(), kState, state_mistakes);
}

TEST_CASE("a session reaches the struct with references resolved and defaults filled in") {
  const Session session = small_session();
  CHECK(session.people == 2);
  CHECK(session.leave_at_minute == 21 * 60 + 30);
  REQUIRE(session.uses.size() == 3);
  CHECK(session.uses[0].machine == 0);
  CHECK(session.uses[0].extraction);
  CHECK(session.uses[0].from_minute == 10);
  CHECK(session.uses[0].stock.moisture_percent == 12);
  CHECK(session.uses[1].stock.moisture_percent == 35);
  CHECK(!session.uses[1].from_minute);
  CHECK(!session.uses[2].extraction);
  CHECK(session.gates_left_open == std::vector<Index>{1});
  CHECK(session.oily_rags);
  CHECK(!session.glue);
}

TEST_CASE("a session without uses loads, for its closing duties") {
  const Session session = loaded(load_session({"session", "id: \"visit\""}, small_shop()));
  CHECK(session.uses.empty());
  CHECK(session.people == 1);
  CHECK(session.minutes == 0);
  CHECK(!session.leave_at_minute);
}

TEST_CASE("plastics may go through wood machines") {
  CHECK(session_mistakes(edited(small_session_text(), "\"oak\"", "\"acrylic\"")).empty());
}

TEST_CASE(
    "extraction may be left off where there is some, and said to be off where there is none") {
  CHECK(session_mistakes(edited(small_session_text(), "extraction: true", "extraction: false"))
            .empty());
  CHECK(session_mistakes(edited(small_session_text(), "minutes: 5", "minutes: 5 extraction: false"))
            .empty());
}

TEST_CASE("too many uses are refused") {
  std::string text = small_session_text();
  for (int i = 0; i < kMostUses; ++i) text += "uses {}\n";
  const Errors errors = session_mistakes(text);
  REQUIRE(errors.size() == 1);
  CHECK(errors[0].code == ErrorCode::kOutOfBounds);
}

TEST_CASE("a state runs parallel to the shop's lists, and what it leaves out is clean and unseen") {
  const Shop shop = small_shop();
  const ShopState state = loaded(load_state({"state", small_state_text()}, shop));
  CHECK(state.bins[0].fill_share == 0.5);
  CHECK(!state.bins[1].fill_share);
  CHECK(state.bins[1].filter_fine_g == 120);
  CHECK(state.zones[3] == PerClass{0, 0, 0, 40});
  CHECK(state.open_floor == PerClass{0, 0, 10, 5});
  CHECK(state.out_of_order == std::vector<bool>{false, false, true, false});

  const ShopState clean = clean_state(shop);
  CHECK(clean.bins.size() == shop.bins.size());
  CHECK(!clean.bins[0].fill_share);
  CHECK(clean.zones == std::vector<PerClass>(shop.zones.size()));
  CHECK(clean.out_of_order == std::vector<bool>(shop.machines.size(), false));
}

TEST_CASE("no truncation and no wrong byte of a session or state crashes the reader") {
  check_robust(small_session_text(), session_mistakes);
  check_robust(small_state_text(), state_mistakes);
}

}  // namespace
}  // namespace chipfall::test
