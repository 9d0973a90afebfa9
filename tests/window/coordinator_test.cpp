#include "tests/window/desk_under_test.h"

using namespace chipfall;
using namespace chipfall::window;
using namespace chipfall::window::test;

TEST_CASE("the coordinator sees bins, round, notices and minutes, and acts on them") {
  DeskUnderTest desk({"coordinator"}, true, 1);
  for (const float size : {1.0F, 2.0F, 3.1F}) {
    CAPTURE(size);
    desk.phone().text_size = size;
    desk.settle_all();
    desk.tap("coordinator/Bins");
    CHECK(desk.says("Because"));
    CHECK(desk.says("Cyclone pail"));
    desk.tap("coordinator/Round");
    CHECK(desk.says("The next round is in"));
    desk.tap("coordinator/Notices");
    CHECK(desk.says("Scroll saw is out"));
    desk.tap("coordinator/Minutes");
    CHECK(desk.says("promised"));
  }
  desk.phone().text_size = 1;
  desk.settle_all();
  desk.tap("coordinator/Notices");
  desk.tap("back/scroll-saw");
  CHECK(desk.standing().machines_out_size() == 0);
  CHECK_FALSE(desk.says("Scroll saw is out of order"));
  desk.tap("restocked/filter-bags");
  CHECK(desk.count("restocked") == 1);
  const int emptied = desk.count("emptied");
  desk.tap("coordinator/Bins");
  desk.tap("bin-emptied/bench-pail");
  CHECK(desk.count("emptied") == emptied + 1);
  CHECK(desk.phone().coordinator.answer->bins().bins(0).id() != "bench-pail");
}

TEST_CASE("at a desk all four parts stand side by side without fault") {
  DeskUnderTest desk({"wide"}, true);
  for (const char* part : {"Bins", "Round", "Notices", "Minutes"}) CHECK(desk.says(part));
  const auto faults = faults_of(desk.phone().seen, desk.desk().place_of(desk.phone()));
  CHECK_MESSAGE(faults.empty(), faults.front());
}
