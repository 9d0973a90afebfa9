#include <random>

#include "tests/window/desk_under_test.h"

using namespace chipfall;
using namespace chipfall::window;
using namespace chipfall::window::test;

/// With sanitizers, which take minutes over all of them, the first of the same taps.
#ifdef CHIPFALL_SANITIZED
constexpr int kTaps = 3'000;
#else
constexpr int kTaps = 20'000;
#endif

/// Taps anywhere, with a fixed seed. Now and then a finger slips, types, or the network goes.
TEST_CASE("a monkey taps thousands of times and every screen still holds together") {
  constexpr int kLookEvery = 20;
  DeskUnderTest desk({"member", "closer", "coordinator"});
  std::mt19937 chance(20261125);  // NOLINT: the same taps every time
  const auto upto = [&](float most) {
    return most * static_cast<float>(chance()) / static_cast<float>(std::mt19937::max());
  };
  Hands& hands = desk.desk().hands;
  for (int i = 0; i < kTaps; ++i) {
    const std::size_t at = chance() % 3;
    Phone& phone = desk.phone(at);
    // Half of the taps go to something, else most of them would go to bare paper.
    const auto& seen = phone.seen.all();
    const Seen* aim = seen.empty() ? nullptr : &seen[chance() % seen.size()];
    const Rect screen = desk.desk().place_of(phone);
    hands.x = screen.left + upto(screen.width());
    hands.y = upto(screen.bottom);
    if (aim != nullptr && i % 2 == 0) {
      hands.x = (aim->at.left + aim->at.right) / 2;
      hands.y = (aim->at.top + aim->at.bottom) / 2;
    }
    hands.down = true;
    desk.stage().frame();
    if (chance() % 8 == 0) hands.y += upto(300) - 150;
    if (chance() % 8 == 0) hands.typed = "gr\xC3\xBCn";
    hands.down = false;
    hands.wheel = chance() % 4 == 0 ? upto(30) - 15 : 0.0F;
    desk.stage().frame();
    if (i % kLookEvery != 0) continue;
    desk.settle_all();
    for (std::size_t p = 0; p < 3; ++p) {
      const Phone& one = desk.phone(p);
      const auto faults = faults_of(one.seen, desk.desk().place_of(one));
      REQUIRE_MESSAGE(faults.empty(), "tap " << i << ", " << one.name << ", screen "
                                             << static_cast<int>(one.screen) << ": "
                                             << faults.front());
      REQUIRE_FALSE(one.seen.all().empty());
    }
  }
  // Whatever it did, the ledgers can be read and agree.
  for (std::size_t p = 0; p < 3; ++p) CHECK(desk.history(p).size() > 0);
}
