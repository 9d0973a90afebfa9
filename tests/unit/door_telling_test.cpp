#include "core/door/door.h"

#include <doctest/doctest.h>

#include <set>

#include "tests/unit/open_door.h"

/// Telling what the ledger holds: the history in words, the export.

using namespace chipfall;
using namespace chipfall::test;

namespace {

bool has(const std::string& text, std::string_view part) {
  return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("the history is paged newest first, told in the shop's time, and complete") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  for (int i = 0; i < 23; ++i) {
    door.set_now(kTestNow_ms + i * 3'600'000LL);
    proto::Record record;
    record.set_member("Kim");
    record.mutable_note()->set_text("number " + std::to_string(i));
    door.record(record);
  }
  proto::Request request;
  request.mutable_history()->set_most(5);
  std::vector<std::string> texts;
  std::set<std::uint64_t> sequences;
  for (int page = 0;; ++page) {
    REQUIRE(page < 6);
    const proto::History history = door.sure_of(request).history();
    for (const proto::HistoryLine& line : history.lines()) {
      texts.push_back(line.text());
      sequences.insert(line.entry().sequence());
    }
    if (!history.has_next()) break;
    CHECK(history.lines_size() == 5);
    *request.mutable_history()->mutable_before() = history.next();
  }
  REQUIRE(texts.size() == 24);
  CHECK(sequences.size() == 24);
  CHECK(texts.front() == "Note: number 22");
  CHECK(texts.back() == "Shop sheet revised");
  // kTestNow_ms is 20:26 in Oslo on 28 May 2026; 22 hours later it is the next evening.
  const proto::History page = door.history();
  CHECK(page.lines(0).day() == "today");
  CHECK(page.lines(0).time() == "20:26");
  CHECK(page.lines(0).member() == "Kim");
  CHECK(page.lines(22).day() == "yesterday");
}

TEST_CASE("each kind of entry reads as a sentence") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  const auto says = [&](auto put) {
    proto::Record record;
    put(record);
    const std::string text = door.record(record).text();
    CHECK(door.history(1).lines(0).text() == text);
    return text;
  };
  using proto::Record;
  CHECK(says([](Record& r) {
          r.mutable_bin_seen()->set_bin("drum");
          r.mutable_bin_seen()->set_seen("half");
        }) == "Bin half full: drum");
  CHECK(says([](Record& r) {
          r.mutable_bin_emptied()->set_bin("drum");
          r.mutable_bin_emptied()->set_bag_replaced(true);
        }) == "Bin emptied, new bag: drum");
  CHECK(says([](Record& r) { r.mutable_zone_seen()->set_seen("dirtier"); }) ==
        "Zone dirtier than the list expected: Open floor");
  CHECK(says([](Record& r) {
          r.mutable_machine_out()->set_machine("saw-1");
          r.mutable_machine_out()->set_reason("belt slips");
        }) == "Out of order: Old saw (belt slips)");
  CHECK(says([](Record& r) {
          r.mutable_supply_low()->set_supply("gloves");
          r.mutable_supply_low()->set_left(12);
        }) == "Running low: gloves (12 left)");
  CHECK(says([](Record& r) {
          r.mutable_note()->set_text("mind the step\nat the door");
          r.mutable_note()->set_place("bench");
        }) == "Note: mind the step at the door (Bench)");
  CHECK(says([](Record& r) { r.mutable_shop_closed()->set_note("all well"); }) ==
        "Shop closed, 0 duties open (all well)");
  CHECK(has(says([](Record& r) { r = ended_session(); }), "\"An evening\", 90 min, 2 people"));
  CHECK(says([](Record& r) { r.mutable_shop_closed(); }) != "Shop closed, 0 duties open");
}

TEST_CASE("the export is RFC 4180, in the order of the events, and names nobody unless asked") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  proto::Record late;
  late.set_member("Kim Otter");
  late.mutable_note()->set_text("=2+2, he said \"so\"\nand left");
  late.set_event_utc_ms(kTestNow_ms - 86'400'000);
  door.record(late);
  door.record(ended_session());
  const proto::Exported exported = door.exported();
  CHECK(exported.rows() == 3);
  const std::string& csv = exported.csv();
  CHECK(
      csv.starts_with("local_time,utc,what,place,minutes,people,reason,time_doubtful\r\n"
                      "2026-05-27T22:26:40+02:00,2026-05-27T20:26:40Z,Note,,,,"
                      "\"'=2+2, he said \"\"so\"\" and left\",no\r\n"));
  CHECK(csv.ends_with("\r\n"));
  CHECK(std::ranges::count(csv, '\n') == 4);
  CHECK_FALSE(has(csv, "Kim"));
  CHECK_FALSE(has(csv, "An evening"));
  proto::ExportRecord with_names;
  with_names.set_member_names(true);
  CHECK(has(door.exported(with_names).csv(), "Kim Otter"));
  CHECK(has(door.exported(with_names).csv(), ",time_doubtful,member\r\n"));
  // By days of the shop, both included.
  proto::ExportRecord one_day;
  one_day.set_from_day("2026-05-27");
  one_day.set_until_day("2026-05-27");
  CHECK(door.exported(one_day).rows() == 1);
  proto::Request request;
  request.mutable_export_record()->set_from_day("yesterday");
  CHECK(has(door.ask(request).mistakes(0).message(), "give YYYY-MM-DD"));
}

TEST_CASE("an entry of a kind that only a newer version knows has its line, and is left alone") {
  const LedgerFolder folder;
  { OpenDoor(folder.file("")).keep_sheet(); }
  {
    LedgerStore store = sure(LedgerStore::open(folder.file(kLedgerFile), {}));
    proto::Entry entry;
    entry.set_device("other");
    entry.set_sequence(1);
    entry.mutable_clock()->set_wall_ms(kTestNow_ms + 5);
    entry.set_event_utc_ms(kTestNow_ms);
    std::string bytes = entry.SerializeAsString() + std::string("\xa2\x06\x00", 3);
    sure(store.add_received(std::span(&bytes, 1), kTestNow_ms));
  }
  OpenDoor door(folder.file(""));
  CHECK(door.history().lines(0).text() == "Something that a newer version knows");
  CHECK(door.history().lines(0).kind().empty());
  CHECK(door.exported().rows() == 2);
}

TEST_CASE("a time that cannot be is kept, marked, and told by the entry's own clock") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  proto::Record record;
  record.set_event_utc_ms(12);
  record.mutable_note()->set_text("woke in 1970");
  CHECK(door.record(record).event_utc_ms() == 12);
  CHECK(door.history().lines(0).doubtful());
  CHECK(door.history().lines(0).day() == "today");
  CHECK(has(door.exported().csv(), "woke in 1970,yes\r\n"));
}
