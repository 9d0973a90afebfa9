#include <doctest/doctest.h>

#include "tests/sim/world.h"

/// Single cases, told step by step.
namespace chipfall::sim {
namespace {

Weather calm(int phones) {
  Weather weather;
  weather.phones = phones;
  weather.members = 0;
  return weather;
}

TEST_CASE("case 11: five hundred entries made without a network arrive in order once it is back") {
  World world(1, calm(2));
  world.phone(0).online = false;
  world.append(world.phone(0), 500);
  for (int i = 0; i < 200; ++i) world.step();
  CHECK(world.phone(0).state->outbox()->waiting == 500);
  REQUIRE(world.heal());
  CHECK(world.check() == "");
  CHECK(world.phone(0).state->outbox()->at_hub == 500);
}

TEST_CASE("case 24: an entry that the hub refuses for ever is parked, shown, and the rest flows") {
  World world(2, calm(2));
  REQUIRE(world.heal());
  World::Phone& phone = world.phone(0);
  world.append(phone, 5);
  world.log().refuses = [name = phone.state->device()](const std::string& device,
                                                       std::uint64_t sequence) {
    return device == name && sequence == 2;
  };
  for (int connection = 0; connection < kTriesBeforeParking; ++connection) {
    for (int i = 0; i < 200; ++i) world.step();
    world.cut(phone);
  }
  for (int i = 0; i < 2000; ++i) world.step();
  const auto parked = phone.state->parked();
  REQUIRE(parked.has_value());
  REQUIRE(parked->size() == 1);
  CHECK(parked->front().sequence == 2);
  CHECK(parked->front().tries == kTriesBeforeParking);
  const auto progress = phone.machine->progress();
  CHECK(progress->parked == 1);
  CHECK(progress->at_hub == 4);
  CHECK(progress->saved_here == 0);

  world.log().refuses = {};  // the hub was mended, and somebody offers it again
  REQUIRE(phone.state->unpark(phone.state->device(), 2).has_value());
  world.cut(phone);
  REQUIRE(world.heal());
  CHECK(phone.machine->progress()->at_hub == 5);
  CHECK(phone.state->parked()->empty());
}

}  // namespace
}  // namespace chipfall::sim
