#include <doctest/doctest.h>

#include <cstdlib>

#include "tests/sim/world.h"

/// Whole runs from seeds. CHIPFALL_SEEDS=n runs n seeds of each weather instead of the few that
/// every build runs, CHIPFALL_SEED=s that one alone.
namespace chipfall::sim {
namespace {

std::uint32_t number_from(const char* name, std::uint32_t otherwise) {
  const char* text = std::getenv(name);
  return text ? static_cast<std::uint32_t>(std::strtoul(text, nullptr, 10)) : otherwise;
}

/// What the runs reached together. A run that fails says its seed.
Sometimes run_seeds(const Weather& weather, std::uint32_t few) {
  const std::uint32_t only = number_from("CHIPFALL_SEED", 0);
  const std::uint32_t first = only > 0 ? only : 1;
  const std::uint32_t last = only > 0 ? only : number_from("CHIPFALL_SEEDS", few);
  Sometimes reached;
  for (std::uint32_t seed = first; seed <= last; ++seed) {
    World world(seed, weather);
    const std::string wrong = world.run();
    CHECK_MESSAGE(wrong.empty(), "seed " << seed << ": " << wrong);
    if (!wrong.empty()) break;
    reached += world.reached;
  }
  return reached;
}

TEST_CASE(
    "bad weather: cuts, crashes, full disks, turned bits, wrong clocks and replays lose nothing") {
  const Sometimes reached = run_seeds({}, 6);
  CHECK(reached.ack_lost > 0);
  CHECK(reached.resent > 0);
  CHECK(reached.commit_failed > 0);
  CHECK(reached.replay_refused > 0);
  CHECK(reached.bit_flip_seen > 0);
  CHECK(reached.clock_measured > 0);
}

TEST_CASE("case 20: the hub goes back to a backup, and what any phone holds comes again") {
  Weather weather;
  weather.restore_hub = 3;
  weather.members = 0;
  const Sometimes reached = run_seeds(weather, 6);
  CHECK(reached.hub_restored > 0);
  CHECK(reached.relayed > 0);
}

TEST_CASE("case 21: phones restored from backups, knowing it, take new names and lose nothing") {
  Weather weather;
  weather.restore_phone = 5;
  weather.backup_phone = 10;
  CHECK(run_seeds(weather, 6).renamed > 0);
}

TEST_CASE("case 21: phones restored from backups without knowing are found out") {
  Weather weather;
  weather.restore_phone = 5;
  weather.backup_phone = 10;
  weather.notices_copy = false;
  CHECK(run_seeds(weather, 6).renamed > 0);
}

TEST_CASE("case 21: two phones with one name end up with two, and both keep what they recorded") {
  Weather weather;
  weather.clone_phone = 2;
  weather.notices_copy = false;
  const Sometimes reached = run_seeds(weather, 6);
  CHECK(reached.renamed > 0);
  CHECK(reached.moved > 0);
}

TEST_CASE("a hub that acknowledges before its commit is on disk is found out within 20 seeds") {
  Weather weather;
  weather.hub_crash = 10;
  run_seeds(weather, 4);  // the same weather, with the rule kept
  weather.forgetful_hub = true;
  bool caught = false;
  for (std::uint32_t seed = 1; seed <= 20 && !caught; ++seed) {
    World world(seed, weather);
    caught = !world.run().empty();
  }
  CHECK(caught);
}

}  // namespace
}  // namespace chipfall::sim
