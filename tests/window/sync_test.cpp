#include "tests/window/desk_under_test.h"

using namespace chipfall;
using namespace chipfall::window;
using namespace chipfall::window::test;

TEST_CASE("what a member passes on stands on the closer's phone, without a word in between") {
  DeskUnderTest desk({"member", "closer"});
  CHECK(desk.phone(1).shop.shop() == "Otter Bend Community Woodshop");
  enter_table_saw(desk);
  desk.tap("crew/list");
  desk.tap("list/begin");
  desk.tap("list/pass");
  desk.tap("reason/no time");
  CHECK(desk.standing(1).duties_size() == desk.standing(0).duties_size());
  CHECK(desk.count("passed on", 1) == 1);
}

TEST_CASE("without a network everything is kept, and goes out when it is back") {
  DeskUnderTest desk({"member", "closer"});
  const std::string online = "desk/" + desk.phone(0).name + "/online";
  desk.tap(online);
  CHECK(desk.desk().hub->wire_of(*desk.phone(0).device)->offline());
  enter_table_saw(desk);
  desk.tap("crew/list");
  desk.tap("list/begin");
  const int owed = desk.standing(0).duties_size();
  CHECK(owed > 0);
  CHECK(desk.standing(1).duties_size() == 0);
  desk.tap(online);
  CHECK(desk.standing(1).duties_size() == owed);
  CHECK(desk.desk().hub->wire_of(*desk.phone(0).device)->trouble().empty());
}

TEST_CASE("a phone whose clock is a day fast still records, and the others still get it") {
  DeskUnderTest desk({"member", "closer"});
  const std::string clock = "desk/" + desk.phone(0).name + "/clock";
  for (int i = 0; i < 3; ++i) desk.tap(clock);
  CHECK(desk.phone(0).device->skew() > 24 * 3'600'000);
  enter_table_saw(desk);
  desk.tap("crew/list");
  desk.tap("list/begin");
  CHECK(desk.count("session", 0) == 1);
  CHECK(desk.count("session", 1) == 1);
}

TEST_CASE("when nothing happens nothing is drawn") {
  DeskUnderTest desk({"member", "closer"});
  enter_table_saw(desk);
  desk.settle_all();
  for (int i = 0; i < 50; ++i) CHECK_FALSE(desk.desk().look());
}
