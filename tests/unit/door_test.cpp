#include "core/door/door.h"

#include <doctest/doctest.h>

#include "tests/unit/open_door.h"

/// The door itself: sheets, folders, several doors, text of every kind.

using namespace chipfall;
using namespace chipfall::test;

namespace {

bool has(const std::string& text, std::string_view part) {
  return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("the sheet is kept once, survives closing, and a broken one changes nothing") {
  const LedgerFolder folder;
  {
    OpenDoor door(folder.file(""));
    door.keep_sheet();
    door.keep_sheet();
    CHECK(door.history().lines_size() == 1);
    proto::Request broken;
    broken.mutable_load_sheet()->mutable_sheet()->set_name("typo.textproto");
    broken.mutable_load_sheet()->mutable_sheet()->set_content("nmae: \"x\"\n");
    broken.mutable_load_sheet()->set_keep(true);
    const proto::Response response = door.ask(broken);
    REQUIRE(response.mistakes_size() > 0);
    CHECK(response.mistakes(0).file() == "typo.textproto");
    CHECK(response.mistakes(0).line() == 1);
    CHECK(door.history().lines_size() == 1);
  }
  OpenDoor door(folder.file(""), true);
  proto::Request lists;
  lists.mutable_list_shop();
  CHECK(door.sure_of(lists).shop().shop() == "Small shop");
}

TEST_CASE("a sheet loaded without keeping it serves this door alone") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  proto::Request other;
  std::string text = own_sheet();
  text.replace(text.find("Small shop"), 10, "Other shop");
  other.mutable_load_sheet()->mutable_sheet()->set_content(text);
  CHECK_FALSE(door.sure_of(other).sheet_loaded().kept());
  proto::Request lists;
  lists.mutable_list_shop();
  CHECK(door.sure_of(lists).shop().shop() == "Other shop");
  OpenDoor next(folder.file(""));
  CHECK(next.sure_of(lists).shop().shop() == "Small shop");
}

TEST_CASE("without a folder lists are made, and recording says why it cannot be") {
  OpenDoor door("");
  proto::Request sheet;
  sheet.mutable_load_sheet()->mutable_sheet()->set_content(own_sheet());
  door.sure_of(sheet);
  proto::Request list;
  list.mutable_wind_down()->mutable_session_file()->set_content(small_session_text());
  CHECK(door.sure_of(list).wind_down().duties_size() > 5);
  CHECK(has(door.refused(done("x")), "without a folder"));
  proto::Request saving;
  saving.mutable_saving();
  CHECK_FALSE(door.sure_of(saving).saving().keeps());
}

TEST_CASE("a folder that is missing or empty is explained") {
  const LedgerFolder folder;
  DoorOptions options;
  options.now_ms = [] { return kTestNow_ms; };
  options.data_folder = folder.file("no-such");
  const auto none = Door::open(options);
  REQUIRE_FALSE(none);
  CHECK(has(none.error().message, "no such folder"));
  options.data_folder = folder.file("");
  options.must_exist = true;
  CHECK(has(Door::open(options).error().message, "nothing is recorded in this folder yet"));
  options.must_exist = false;  // and without a source of random bytes
  CHECK(has(Door::open(options).error().message, "random"));
}

TEST_CASE("a ledger whose making broke off is made whole at the next opening") {
  const LedgerFolder folder;
  std::ofstream(folder.file(kLedgerFile)).close();
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  CHECK(door.history().lines_size() == 1);
}

TEST_CASE("two doors on one folder see each other's entries, and polling notices") {
  const LedgerFolder folder;
  OpenDoor mine(folder.file(""));
  OpenDoor yours(folder.file(""));
  mine.keep_sheet();
  const std::uint64_t before = yours.door().changes();
  CHECK(yours.door().changes() == before);
  proto::Record record;
  record.mutable_note()->set_text("hello");
  mine.record(record);
  CHECK(yours.door().changes() > before);
  CHECK(yours.history().lines(0).text() == "Note: hello");
}

TEST_CASE("text of every kind goes in and comes out as it was") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  for (const std::string text :
       {"sägespäne", "🪵🧹 👩‍🔧", "木くず", "\"'; DROP TABLE"}) {
    proto::Record record;
    record.set_member(text);
    record.mutable_note()->set_text(text);
    door.record(record);
    CHECK(door.history(1).lines(0).text() == "Note: " + text);
    CHECK(door.history(1).lines(0).member() == text);
  }
  // Marks that turn the writing direction are not shown.
  proto::Record record;
  record.mutable_note()->set_text("a\u202Eb");
  door.record(record);
  CHECK(door.history(1).lines(0).text() == "Note: a b");
}

TEST_CASE("what this version does not know is said, not guessed") {
  OpenDoor door("");
  const auto ask = [&](const std::string& bytes) {
    proto::Response response;
    REQUIRE(response.ParseFromString(door.door().call(bytes)));
    CHECK(response.format() == kDoorFormat);
    REQUIRE(response.mistakes_size() == 1);
    return response.mistakes(0);
  };
  CHECK(has(ask("").message(), "asks for nothing"));
  CHECK(ask("\xff\xff\xff").code() == "unreadable");
  CHECK(ask(std::string("\xa2\x06\x00", 3)).code() == "unknown");  // field 100: not yet
  proto::Request newer;
  newer.set_format(2);
  newer.set_number(77);
  newer.mutable_saving();
  CHECK(has(ask(newer.SerializeAsString()).message(), "Bring it up to date"));
  CHECK(door.ask(newer).number() == 77);
  CHECK(ask(std::string(kMostRequestBytes + 1, 'x')).code() == "out of bounds");
}
