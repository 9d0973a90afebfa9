#include "core/duty/bin_past.h"

#include <algorithm>
#include <cmath>
#include <random>

#include <doctest/doctest.h>

#include "core/duty/zones.h"
#include "tests/unit/small_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

constexpr std::int64_t kDay_ms = 86'400'000;
constexpr std::int64_t kMinute_ms = 60'000;

double utc_day(std::int64_t at_ms) { return static_cast<double>(at_ms) / kDay_ms; }

/// The small shop and its evening, ended on day 3 at noon.
struct Past {
  Shop shop = small_shop();
  Session session = small_session();
  SessionDust dust = dust_of(shop, overlay_of(shop), clean_state(shop), session);
  ShopPast past;

  Past() { past.sessions.push_back(past_session(shop, session, dust, "s1", 3 * kDay_ms)); }
  BinPasts bins() const { return bin_pasts(shop, past, utc_day); }
  Index bin(const std::string& id) const { return index_of(shop.bins, id); }
  double pushed_share(const std::string& id) const {
    double share = 0;
    const BinPasts all = bins();
    for (const BinEvent& event : all.bins[bin(id)].events) share += event.expected_share;
    return share;
  }
  PastBinFact fact(const std::string& id, double minute, const std::string& bin,
                   const std::string& seen = "") const {
    const auto at = 3 * kDay_ms + static_cast<std::int64_t>(minute * kMinute_ms);
    return {id, at, bin, seen.empty(), false, seen};
  }
  int count(const std::string& id, BinEvent::Kind kind) const {
    const BinPasts all = bins();
    return static_cast<int>(std::ranges::count(all.bins[bin(id)].events, kind, &BinEvent::kind));
  }
};

}  // namespace

TEST_CASE("each bin of a chain gets what the dust account says it kept") {
  const Past past;
  for (const char* id : {"drum", "bag"}) {
    const Index b = past.bin(id);
    CHECK(past.dust.bins[b].caught_m3 > 0);
    CHECK(past.pushed_share(id) ==
          doctest::Approx(past.dust.bins[b].caught_m3 / past.shop.bins[b].volume_m3));
  }
}

TEST_CASE("emptying one bin of a chain empties that one only") {
  Past past;
  past.past.facts = {past.fact("e1", 10, "drum")};
  CHECK(past.count("drum", BinEvent::Kind::kEmptied) == 1);
  CHECK(past.count("bag", BinEvent::Kind::kEmptied) == 0);
}

TEST_CASE("a duty and an entry that tell of one emptying count once, its bag once too") {
  Past past;
  past.past.facts = {past.fact("e1", 10, "drum"),
                     past.fact("e2", 10 + kSameEmptying_minutes, "drum"),
                     past.fact("e3", 11 + kSameEmptying_minutes, "drum")};
  past.past.facts[0].bag_replaced = past.past.facts[1].bag_replaced = true;
  CHECK(past.count("drum", BinEvent::Kind::kEmptied) == 2);
  CHECK(past.bins().bins[past.bin("drum")].bags_replaced.size() == 1);
  std::ranges::reverse(past.past.facts);
  CHECK(past.count("drum", BinEvent::Kind::kEmptied) == 2);
}

TEST_CASE("what is vacuumed goes into the vac's own bin, swept floors into the trash") {
  Past past;
  const double tub = past.pushed_share("tub");
  const double trash = past.pushed_share("trash");
  for (size_t z = 0; z < past.shop.zones.size(); ++z) {
    const auto zone = static_cast<Index>(z);
    if (past.past.sessions[0].metal[z] || sum(past.past.sessions[0].lying_g[z]) <= 0) continue;
    const Index hose = index_of(past.shop.tools, "hose");
    const Index broom = index_of(past.shop.tools, "broom");
    Past vacuumed = past;
    vacuumed.past.cleanings = {{"c1", 3 * kDay_ms + kMinute_ms, zone, hose, "s1"}};
    CHECK(vacuumed.pushed_share("tub") > tub);
    CHECK(vacuumed.pushed_share("trash") == trash);
    vacuumed.past.cleanings.push_back(vacuumed.past.cleanings[0]);
    vacuumed.past.cleanings.push_back({"c2", 3 * kDay_ms + 2 * kMinute_ms, zone, hose, "s1"});
    CHECK(vacuumed.bins().bins[past.bin("tub")].events.size() ==
          past.bins().bins[past.bin("tub")].events.size() + 1);  // twice on one floor: once
    Past swept = past;
    swept.past.cleanings = {{"c1", 3 * kDay_ms + kMinute_ms, zone, broom, "s1"}};
    CHECK(swept.pushed_share("tub") == tub);
    CHECK(swept.pushed_share("trash") > trash);
  }
}

TEST_CASE("no metal grit is counted into a vac or the trash") {
  Past past;
  const double tub = past.pushed_share("tub");
  const double trash = past.pushed_share("trash");
  PastSession& session = past.past.sessions[0];
  const auto dusty =
      std::ranges::find_if(session.lying_g, [](const PerClass& g) { return sum(g) > 1; });
  REQUIRE(dusty != session.lying_g.end());
  const auto zone = static_cast<Index>(dusty - session.lying_g.begin());
  past.past.cleanings = {{"c1", 3 * kDay_ms + 1, zone, kNone, "s1"}};
  CHECK(past.pushed_share("tub") + past.pushed_share("trash") > tub + trash);
  session.metal[zone] = true;
  CHECK(past.pushed_share("tub") == tub);
  CHECK(past.pushed_share("trash") == trash);
}

TEST_CASE("scraps of sawn wood are expected in the trash, widely") {
  const Past past;
  const auto events = past.bins().bins[past.bin("trash")].events;
  REQUIRE(events.size() == 1);
  CHECK(events[0].spread == kScrapsSpread);
  Past metal;
  metal.session.uses[0].stock = *metal.shop.stock("steel");
  const PastSession without =
      past_session(metal.shop, metal.session, metal.dust, "s2", 3 * kDay_ms);
  CHECK(without.scraps_m3[past.bin("trash")] == 0);
}

TEST_CASE("weak pull at a machine's hood is evidence for the first bin of its chain") {
  Past past;
  past.past.facts = {past.fact("e1", 5, "saw-1", "weak pull")};
  CHECK(past.count("drum", BinEvent::Kind::kSighting) == 1);
  CHECK(past.count("bag", BinEvent::Kind::kSighting) == 0);
  CHECK(past.bins().notes.empty());
}

TEST_CASE("words and bins that nobody knows become notes and no evidence") {
  Past past;
  past.past.facts = {past.fact("e1", 5, "drum", "brimful"), past.fact("e2", 6, "skip", "full"),
                     past.fact("e3", 7, "saw-1", "full"), past.fact("e4", 8, "skip")};
  const BinPasts bins = past.bins();
  CHECK(bins.notes.size() == 4);
  CHECK(past.count("drum", BinEvent::Kind::kSighting) == 0);
  CHECK(std::ranges::any_of(bins.notes, [](const std::string& note) {
    return note == "\"skip\" was emptied, which this sheet has no bin for.";
  }));
}

TEST_CASE("any order of arrival and entries that come twice give the same pasts of bins") {
  Past past;
  past.past.sessions.push_back(past_session(past.shop, past.session, past.dust, "s2", 4 * kDay_ms));
  past.past.cleanings = {{"c1", 3 * kDay_ms + 1, 0, kNone, "s1"},
                         {"c2", 4 * kDay_ms + 1, 1, kNone, ""}};
  past.past.facts = {past.fact("e1", 5, "drum", "full"), past.fact("e2", 6, "drum"),
                     past.fact("e3", 9, "bag", "half")};
  const BinPasts straight = past.bins();
  std::mt19937 random(7);
  for (int round = 0; round < 20; ++round) {
    past.past.facts.push_back(past.past.facts[random() % past.past.facts.size()]);
    past.past.sessions.push_back(past.past.sessions[0]);
    std::ranges::shuffle(past.past.facts, random);
    std::ranges::shuffle(past.past.sessions, random);
    std::ranges::shuffle(past.past.cleanings, random);
    const BinPasts other = past.bins();
    for (size_t b = 0; b < straight.bins.size(); ++b) {
      CHECK(other.bins[b].events == straight.bins[b].events);
      CHECK(other.bins[b].caught_g == straight.bins[b].caught_g);
    }
  }
}
