#include <algorithm>

#include "tests/window/desk_under_test.h"

using namespace chipfall;
using namespace chipfall::window;
using namespace chipfall::window::test;

TEST_CASE("a member's whole way, at three sizes of text, and what the ledger then holds") {
  for (const float size : {1.0F, 1.5F, 2.0F, 3.1F}) {
    CAPTURE(size);
    DeskUnderTest desk({"member"}, false, size);
    enter_table_saw(desk);
    CHECK(desk.says("Tools down by"));
    const std::string hero = desk.phone().member.list->finish().tools_down_by();
    CHECK(hero.size() == 5);
    CHECK(desk.says(hero));
    desk.tap("crew/people/+1");
    CHECK(desk.phone().member.list->people() == 2);
    desk.tap("crew/list");
    CHECK(desk.count("session") == 0);
    desk.tap("list/begin");
    CHECK(desk.count("session") == 1);

    const proto::WindDown list = *desk.phone().member.list;
    REQUIRE(list.duties_size() > 4);
    desk.tap("list/done");
    desk.tap("list/pass");
    desk.tap("reason/no tool");
    desk.tap("list/not-needed");
    CHECK(desk.count("done") == 1);
    CHECK(desk.count("passed on") == 1);
    CHECK(desk.count("not needed") == 1);
    const proto::Standing standing = desk.standing();
    CHECK(standing.duties_size() == list.duties_size() - 2);
    const auto passed = std::ranges::find(standing.duties(), "passed on",
                                          [](const auto& duty) { return duty.ending(); });
    REQUIRE(passed != standing.duties().end());
    CHECK(passed->owed().id() == list.duties(1).id());
    CHECK(passed->reason() == "no tool");

    desk.tap("list/view/1");
    desk.tap("list/finish");
    CHECK(desk.says("Saved on this phone"));
    CHECK(desk.says(desk.phone().saving.text().substr(0, 12)));
    desk.tap("finish/home");
    CHECK(desk.says("What are you here for?"));
  }
}

TEST_CASE("what was run the last time is offered first") {
  DeskUnderTest desk({"member"});
  enter_table_saw(desk);
  desk.tap("crew/list");
  desk.tap("list/begin");
  desk.tap("list/view/1");
  desk.tap("list/finish");
  desk.tap("finish/home");
  desk.tap("home/member");
  CHECK(desk.says("Used before"));
  const SeenLayer& seen = desk.phone().seen;
  CHECK(seen.target("machines/table-saw")->at.top < seen.target("machines/mitre-saw")->at.top);
  desk.tap("machines/table-saw");
  CHECK(desk.says("Red oak"));
}

TEST_CASE("a duty that was ended by mistake is opened again") {
  DeskUnderTest desk({"member"});
  enter_table_saw(desk);
  desk.tap("crew/list");
  desk.tap("list/begin");
  const int owed = desk.standing().duties_size();
  desk.tap("list/done");
  CHECK(desk.standing().duties_size() == owed - 1);
  desk.tap("list/earlier");
  CHECK(desk.says("Done. It is saved."));
  desk.tap("list/reopen");
  CHECK(desk.standing().duties_size() == owed);
}

TEST_CASE("a zone can be told to be dirtier than the list says, a bin to be full") {
  DeskUnderTest desk({"member"});
  enter_table_saw(desk);
  desk.tap("crew/list");
  desk.tap("list/begin");
  MemberState& member = desk.phone().member;
  while (member.list->duties(member.at).zone().empty()) desk.tap("list/later");
  desk.tap("list/dirtier");
  CHECK(desk.says("Noted: dirtier"));
  CHECK(desk.count("zone") == 1);
  desk.phone().home();
  desk.settle_all();
  desk.tap("home/bin");
  desk.tap("bins/bench-pail");
  desk.tap("bin/full");
  CHECK(desk.says("Saved on this phone"));
  CHECK(desk.count("bin") == 1);
}

TEST_CASE("a second tap while one is being recorded records nothing") {
  DeskUnderTest desk({"member"});
  proto::Record note;
  note.mutable_note()->set_text("once");
  CHECK(desk.phone().record(note, [](const proto::Recorded&) {}));
  CHECK_FALSE(desk.phone().record(note, [](const proto::Recorded&) {}));
  desk.settle_all();
  CHECK(desk.count("note") == 1);
}

TEST_CASE("what the door refuses is said kindly, and nothing is lost by it") {
  DeskUnderTest desk({"member"});
  desk.tap("home/member");
  desk.tap("machines/table-saw");
  desk.tap("use/stock");
  desk.tap("stock/steel");
  desk.tap("use/done");
  desk.tap("machines/next");
  CHECK(desk.says("That did not work"));
  CHECK(desk.says("cuts wood"));
  CHECK(desk.says("Nothing was saved by this"));
  desk.tap("trouble/close");
  CHECK_FALSE(desk.says("That did not work"));
}

TEST_CASE("words of one's own go with a duty that is passed on") {
  DeskUnderTest desk({"member"});
  enter_table_saw(desk);
  desk.tap("crew/list");
  desk.tap("list/begin");
  desk.tap("list/pass");
  desk.tap("reason/own");
  desk.desk().hands.typed = "the key is missing \xC3\xA9\xE2\x80\xA6";
  desk.settle_all();
  desk.tap("reason/say");
  const proto::Standing standing = desk.standing();
  CHECK(std::ranges::any_of(standing.duties(), [](const auto& duty) {
    return duty.reason() == "the key is missing \xC3\xA9\xE2\x80\xA6";
  }));
}

TEST_CASE("the map says what lies in a zone that is touched, and follows the air by the slider") {
  DeskUnderTest desk({"member"});
  enter_table_saw(desk);
  desk.tap("crew/map");
  desk.tap("map/zone/saw-front-floor");
  CHECK(desk.says("fell here"));
  const auto before = desk.phone().member.air_share;
  desk.tap("map/time");
  CHECK(desk.phone().member.air_share > before);
  CHECK(desk.says("later:"));
}

TEST_CASE("the script that makes the member's pictures plays, in large text too") {
  DeskUnderTest desk({"member"}, true, 2);
  desk.play_file("member.script");
}

TEST_CASE("a duty that is ended has the minutes since it was opened, or what the member says") {
  DeskUnderTest desk({"member"});
  enter_table_saw(desk);
  desk.tap("crew/list");
  desk.tap("list/begin");
  Phone& phone = desk.phone();
  const auto last = [&] { return desk.history().front().text(); };
  desk.tap("list/done");  // at once: a tap, no time
  CHECK(last().find(" min") == std::string::npos);
  phone.device->set_skew(3 * 60'000 + 5'000);
  desk.settle_all();
  CHECK(desk.says("3 min"));
  desk.tap("list/done");
  CHECK(last().find(", 3 min") != std::string::npos);
  desk.tap("list/minutes/+5");
  desk.tap("list/minutes/+1");
  CHECK(desk.says("6 min"));
  desk.tap("list/done");
  CHECK(last().find(", 6 min") != std::string::npos);
  // What was said of one duty is not said of the next.
  desk.tap("list/done");
  CHECK(last().find(" min") == std::string::npos);
}
