#include "tests/window/desk_under_test.h"

using namespace chipfall::window;
using namespace chipfall::window::test;

// One case a size, so that they run beside each other. Faults are looked for after each command.
namespace {

void play_all(float size) {
  for (const char* script :
       {"member.script", "closer.script", "coordinator.script", "readme.script", "wide.script"}) {
    CAPTURE(script);
    DeskUnderTest desk({"member", "second", "closer", "coordinator", "wide"}, true, size);
    desk.play_file(script, size);
  }
}

}  // namespace

TEST_CASE("every script plays to its end at 100 percent") { play_all(1.0F); }
TEST_CASE("every script plays to its end at 150 percent") { play_all(1.5F); }
TEST_CASE("every script plays to its end at 200 percent") { play_all(2.0F); }
TEST_CASE("every script plays to its end at 310 percent") { play_all(3.1F); }
