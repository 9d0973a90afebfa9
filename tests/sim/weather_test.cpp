#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>

#include "tests/sim/world.h"

/// Whole runs from seeds. CHIPFALL_SEEDS=n runs n seeds of each weather instead of those that every
/// build runs, CHIPFALL_SEED=s that one alone. Together they are the 2,000 of a plain build.
namespace chipfall::sim {
namespace {

#ifdef CHIPFALL_FEWER_SEEDS
constexpr std::uint32_t kFewer = 13;  ///< with sanitizers, which slow all of it down
#else
constexpr std::uint32_t kFewer = 1;
#endif

std::uint32_t number_from(const char* name, std::uint32_t otherwise) {
  const char* text = std::getenv(name);
  return text ? static_cast<std::uint32_t>(std::strtoul(text, nullptr, 10)) : otherwise;
}

/// Shops of two to four phones, and a large one now and then.
Weather of_seed(Weather weather, std::uint32_t seed) {
  weather.phones = seed % 100 == 99 ? 12 : 2 + static_cast<int>(seed % 3);
  weather.members = std::min(weather.members, weather.phones - 1);
  return weather;
}

/// What the runs reached together. A run that fails says its seed, and how to have it again.
Sometimes run_seeds(const Weather& weather, std::uint32_t seeds) {
  const std::uint32_t only = number_from("CHIPFALL_SEED", 0);
  const std::uint32_t first = only > 0 ? only : 1;
  const std::uint32_t last = only > 0 ? only : number_from("CHIPFALL_SEEDS", seeds / kFewer);
  Sometimes reached;
  std::uint64_t trace = 0;  // equal for equal runs, whatever compiler built them
  for (std::uint32_t seed = first; seed <= last; ++seed) {
    World world(seed, of_seed(weather, seed));
    const std::string wrong = world.run();
    CHECK_MESSAGE(wrong.empty(),
                  "seed " << seed << ": " << wrong << "CHIPFALL_SEED=" << seed << " runs it alone");
    if (!wrong.empty()) break;
    reached += world.reached;
    trace = trace * 31 + world.trace();
  }
  MESSAGE(fmt::format("{} seeds{}; {}; frames {:016x}", last - first + 1,
                      kFewer > 1 ? " (fewer, for the sanitizers)" : "", reached.text(), trace));
  return reached;
}

TEST_CASE(
    "bad weather: cuts, crashes, full disks, turned bits, wrong clocks and replays lose nothing") {
  const Sometimes reached = run_seeds({}, 420);
  CHECK(reached.ack_lost > 0);
  CHECK(reached.resent > 0);
  CHECK(reached.commit_failed > 0);
  CHECK(reached.replay_refused > 0);
  CHECK(reached.bit_flip_seen > 0);
  CHECK(reached.clock_measured > 0);
  CHECK(reached.looked > 0);
}

TEST_CASE("case 20: the hub goes back to a backup, and what any phone holds comes again") {
  Weather weather;
  weather.restore_hub = 7;
  weather.members = 0;
  const Sometimes reached = run_seeds(weather, 280);
  CHECK(reached.hub_restored > 0);
  CHECK(reached.relayed > 0);
}

TEST_CASE("case 21: phones restored from backups, knowing it, take new names and lose nothing") {
  Weather weather;
  weather.restore_phone = 12;
  weather.backup_phone = 20;
  const Sometimes reached = run_seeds(weather, 260);
  CHECK(reached.renamed > 0);
  CHECK(reached.views_outdated > 0);
}

TEST_CASE("case 21: phones restored from backups without knowing are found out") {
  Weather weather;
  weather.restore_phone = 12;
  weather.backup_phone = 20;
  weather.notices_copy = false;
  const Sometimes reached = run_seeds(weather, 260);
  CHECK(reached.renamed > 0);
  CHECK(reached.moved > 0);
}

TEST_CASE("case 21: two phones with one name end up with two, and both keep what they recorded") {
  Weather weather;
  weather.clone_phone = 6;
  weather.notices_copy = false;
  const Sometimes reached = run_seeds(weather, 280);
  CHECK(reached.renamed > 0);
  CHECK(reached.moved > 0);
  CHECK(reached.views_outdated > 0);
}

Weather copies_of_copies() {
  Weather weather;
  weather.clone_phone = 8;
  weather.clone_copy = 60;
  weather.restore_phone = 6;
  weather.backup_phone = 20;
  return weather;
}

TEST_CASE("case 21: copies of a copy that met the hub later count nothing twice and lose nothing") {
  const Sometimes reached = run_seeds(copies_of_copies(), 320);
  CHECK(reached.copied_again > 0);
  CHECK(reached.moved > 0);
}

bool counts_twice(const Weather& weather, std::uint32_t seeds) {
  for (std::uint32_t seed = 1; seed <= seeds; ++seed) {
    World world(seed, of_seed(weather, seed));
    if (world.run().find("is counted twice") != std::string::npos) return true;
  }
  return false;
}

TEST_CASE("moved entries that get names by chance are found out within 20 seeds") {
  Weather weather = copies_of_copies();
  weather.chance_names = true;
  CHECK(counts_twice(weather, 20));
}

TEST_CASE("a hub that takes two copies' lines under one name is found out within 20 seeds") {
  Weather weather = copies_of_copies();
  weather.mixing_hub = true;
  CHECK(counts_twice(weather, 20));
}

TEST_CASE("case 24: entries that the hub will never take are parked, and hold up nothing else") {
  Weather weather;
  weather.refuse_entry = 8;
  const Sometimes reached = run_seeds(weather, 180);
  CHECK(reached.parked > 0);
}

TEST_CASE("a hub that acknowledges before its commit is on disk is found out within 20 seeds") {
  Weather weather;
  weather.hub_crash = 10;
  run_seeds(weather, 4 * kFewer);  // the same weather, with the rule kept
  weather.forgetful_hub = true;
  bool caught = false;
  for (std::uint32_t seed = 1; seed <= 20 && !caught; ++seed) {
    World world(seed, weather);
    caught = !world.run().empty();
  }
  CHECK(caught);
}

TEST_CASE("the same seed gives the same run, frame for frame") {
  Weather weather;
  weather.clone_phone = 2;
  weather.restore_hub = 2;
  weather.members = 0;
  const auto run = [&](std::uint32_t seed) {
    World world(seed, weather);
    CHECK(world.run() == "");
    return std::pair(world.trace(), world.now_ms());
  };
  const auto first = run(7);
  CHECK(run(7) == first);
  CHECK(run(8) != first);
}

}  // namespace
}  // namespace chipfall::sim
