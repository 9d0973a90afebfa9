#include <algorithm>

#include "preview/terminal/files.h"
#include "tests/window/desk_under_test.h"

using namespace chipfall;
using namespace chipfall::window;
using namespace chipfall::window::test;

namespace {

/// The core's answers in a pseudo-locale while it lives.
struct Speaking {
  explicit Speaking(const std::string& language) { DoorClient::speak(language); }
  ~Speaking() { DoorClient::speak(""); }
};

}  // namespace

TEST_CASE("a third longer and accented, no sentence is clipped or runs over another") {
  const Speaking pseudo("en-XA");
  for (const float size : {1.0F, 1.5F, 2.0F, 3.1F}) {
    CAPTURE(size);
    DeskUnderTest desk({"member", "closer", "coordinator"}, true, size);
    for (const char* script : {"member.script", "closer.script", "coordinator.script"}) {
      desk.play_file(script, size);
    }
    CHECK(desk.says("»", 0));
    CHECK(desk.says("»", 1));
    CHECK(desk.says("»", 2));
  }
}

TEST_CASE("what is shown of a list in the pseudo-locale is not English, and ids still work") {
  const Speaking pseudo("en-XA");
  DeskUnderTest desk({"member"});
  enter_table_saw(desk);
  const proto::WindDown& list = *desk.phone().member.list;
  REQUIRE(list.duties_size() > 4);
  const auto sheet = sure(read_file(CHIPFALL_SOURCE_DIR "/checklists/otter-bend.textproto"));
  int told = 0;
  for (const proto::Duty& duty : list.duties()) {
    // The shop's own duties are its own words.
    if (sheet.content.find("\"" + duty.title() + "\"") != std::string::npos) continue;
    ++told;
    CHECK_MESSAGE(duty.title().find("»") != std::string::npos, duty.title());
    CHECK_MESSAGE(duty.why().starts_with("«"), duty.why());
    CHECK(duty.id().find("«") == std::string::npos);
  }
  CHECK(told > 4);
  desk.tap("crew/list");
  desk.tap("list/begin");
  desk.tap("list/pass");
  desk.tap("reason/no tool");
  const auto lines = desk.history();
  const auto passed = std::ranges::find(lines, "passed on", &proto::HistoryLine::kind);
  REQUIRE(passed != lines.end());
  CHECK(passed->text().starts_with("«Páášš"));
}
