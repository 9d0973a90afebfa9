#include "core/door/door.h"

#include <doctest/doctest.h>

#include <set>

#include "tests/unit/open_door.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

bool has(const std::string& text, std::string_view part) {
  return text.find(part) != std::string::npos;
}

const proto::StandingDuty* find(const proto::Standing& standing, const std::string& id) {
  for (const proto::StandingDuty& duty : standing.duties()) {
    if (duty.owed().id() == id) return &duty;
  }
  return nullptr;
}

}  // namespace

TEST_CASE("a session that ended leaves its whole list open, and what is done is open no more") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  const proto::Recorded ended = door.record(ended_session());
  CHECK(ended.list().duties_size() > 5);
  const proto::Standing before = door.standing();
  REQUIRE(before.duties_size() == ended.list().duties_size());
  const std::string id = ended.list().duties(0).id();
  REQUIRE(find(before, id) != nullptr);
  CHECK(find(before, id)->session().sequence() == ended.entry().sequence());
  CHECK(find(before, id)->ending() == "open");

  proto::Record tick = done(id);
  tick.mutable_done()->set_minutes(3.5);
  tick.mutable_done()->set_people(2);
  CHECK(has(door.record(tick).text(), "3.5 min, 2 people"));
  CHECK(find(door.standing(), id) == nullptr);
  CHECK(door.standing().duties_size() == before.duties_size() - 1);
}

TEST_CASE("a duty passed on stays with its reason, one not needed goes, one reopened comes back") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  const proto::WindDown list = door.record(ended_session()).list();
  proto::Record pass;
  pass.mutable_passed_on()->mutable_duty()->set_id(list.duties(0).id());
  CHECK(has(door.refused(pass), "passed_on.reason: missing"));
  pass.mutable_passed_on()->set_reason("no tool");
  door.record(pass);
  REQUIRE(find(door.standing(), list.duties(0).id()) != nullptr);
  CHECK(find(door.standing(), list.duties(0).id())->ending() == "passed on");
  CHECK(find(door.standing(), list.duties(0).id())->reason() == "no tool");

  proto::Record no_need;
  no_need.mutable_not_needed()->mutable_duty()->set_id(list.duties(1).id());
  door.record(no_need);
  CHECK(find(door.standing(), list.duties(1).id()) == nullptr);
  proto::Record again;
  again.mutable_reopened()->mutable_duty()->set_id(list.duties(1).id());
  door.record(again);
  REQUIRE(find(door.standing(), list.duties(1).id()) != nullptr);
  CHECK(find(door.standing(), list.duties(1).id())->ending() == "open");
}

TEST_CASE("a done duty carries its kind and estimate, so that minutes can be learned from it") {
  const LedgerFolder folder;
  std::string id, kind;
  double published = 0;
  {
    OpenDoor door(folder.file(""));
    door.keep_sheet();
    const proto::Duty duty = door.record(ended_session()).list().duties(0);
    id = duty.id();
    kind = duty.kind();
    published = duty.published_minutes();
    door.record(done(id));
  }
  LedgerStore store = sure(LedgerStore::open(folder.file(kLedgerFile), {}));
  Views views = sure(Views::open(store));
  const auto facts = sure(views.done());
  REQUIRE(facts.size() == 1);
  CHECK(facts[0].done.kind() == kind);
  CHECK(facts[0].done.estimated_minutes() == published);
  CHECK(published > 0);
}

TEST_CASE("a machine is taken back only by somebody who names the notice that stands") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  proto::Record back;
  back.mutable_machine_back()->set_machine("saw-1");
  CHECK(has(door.refused(back), "is not out of order"));
  proto::Record out;
  out.mutable_machine_out()->set_machine("saw-1");
  out.mutable_machine_out()->set_reason("riving knife bent");
  const proto::Recorded first = door.record(out);
  CHECK(has(door.refused(back), "machine_back.seen: missing"));
  out.mutable_machine_out()->set_reason("brake fails");
  door.record(out);
  *back.mutable_machine_back()->mutable_seen() = first.entry();
  CHECK(has(door.refused(back), "again since; read that first: brake fails"));
  const proto::Standing standing = door.standing();
  REQUIRE(standing.machines_out_size() == 1);
  CHECK(standing.machines_out(0).name() == "Old saw");
  *back.mutable_machine_back()->mutable_seen() = standing.machines_out(0).entry();
  door.record(back);
  CHECK(door.standing().machines_out_size() == 0);
}

TEST_CASE("a machine out of order is out of the next list's use, as the ledger remembers") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  proto::Record out;
  out.mutable_machine_out()->set_machine("lathe-1");
  door.record(out);
  proto::Request lists;
  lists.mutable_list_shop();
  const proto::ShopLists shop = door.sure_of(lists).shop();
  REQUIRE(shop.machines_size() == 4);
  for (const proto::MachineNamed& machine : shop.machines()) {
    CHECK(machine.out() == (machine.id() == "lathe-1"));
  }
  CHECK(shop.machines(0).extraction());
  CHECK(shop.stocks_size() > 4);
  CHECK(shop.time_zone() == "Europe/Oslo");
}

TEST_CASE("every argument is checked against the sheet, with what would be right") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  using proto::Record;
  struct Wrong {
    Record record;
    std::string_view says;
  };
  std::vector<Wrong> wrongs;
  const auto add = [&](std::string_view says, auto put) {
    wrongs.push_back({{}, says});
    put(wrongs.back().record);
  };
  add("bin_seen.bin: \"durm\" is not a bin here", [](Record& r) {
    r.mutable_bin_seen()->set_bin("durm");
    r.mutable_bin_seen()->set_seen("full");
  });
  add("did you mean \"drum\"?", [](Record& r) { r.mutable_bin_emptied()->set_bin("durm"); });
  add("bin_seen.seen: \"ful\" is not", [](Record& r) {
    r.mutable_bin_seen()->set_bin("drum");
    r.mutable_bin_seen()->set_seen("ful");
  });
  add("zone_seen.zone", [](Record& r) {
    r.mutable_zone_seen()->set_zone("benhc");
    r.mutable_zone_seen()->set_seen("dirtier");
  });
  add("zone_seen.seen: missing", [](Record& r) { r.mutable_zone_seen()->set_zone("bench"); });
  add("machine_out.machine", [](Record& r) { r.mutable_machine_out()->set_machine("saw-2"); });
  add("supply_low.supply: missing", [](Record& r) { r.mutable_supply_low(); });
  add("supply_low.left", [](Record& r) {
    r.mutable_supply_low()->set_supply("gloves");
    r.mutable_supply_low()->set_left(-1);
  });
  add("supply_restocked.added", [](Record& r) {
    r.mutable_supply_restocked()->set_supply("gloves");
    r.mutable_supply_restocked()->set_added(std::numeric_limits<double>::quiet_NaN());
  });
  add("note.text: missing", [](Record& r) { r.mutable_note(); });
  add("note.place", [](Record& r) {
    r.mutable_note()->set_text("x");
    r.mutable_note()->set_place("nowhere");
  });
  add("note.text", [](Record& r) { r.mutable_note()->set_text(std::string(5000, 'x')); });
  add("signs that are no text", [](Record& r) { r.mutable_note()->set_text("a\x1b[2Jb"); });
  add("done.duty.id: missing", [](Record& r) { r.mutable_done(); });
  add("done.duty.id: \"sweep-moon\"",
      [](Record& r) { r.mutable_done()->mutable_duty()->set_id("sweep-moon"); });
  add("done.duty.session", [](Record& r) {
    r.mutable_done()->mutable_duty()->set_id("x");
    r.mutable_done()->mutable_duty()->mutable_session()->set_device("nobody");
  });
  add("at: \"25:00\" is not a time", [](Record& r) {
    r.set_at("25:00");
    r.mutable_note()->set_text("x");
  });
  add("leave one of the two out", [](Record& r) {
    r.set_at("21:00");
    r.set_event_utc_ms(kTestNow_ms);
    r.mutable_note()->set_text("x");
  });
  add("member", [](Record& r) {
    r.set_member(std::string(81, 'm'));
    r.mutable_note()->set_text("x");
  });
  add("nothing to record", [](Record&) {});
  add("say what was used", [](Record& r) { r.mutable_session(); });
  add("uses[0].machine", [](Record& r) {
    proto::Use& use = *r.mutable_session()->mutable_draft()->add_uses();
    use.set_machine("swa-1");
    use.set_minutes(20);
    use.set_stock("oak");
  });
  for (const Wrong& wrong : wrongs) {
    CAPTURE(wrong.says);
    const std::string said = door.refused(wrong.record);
    CAPTURE(said);
    CHECK(has(said, wrong.says));
  }
  CHECK(door.history().lines_size() == 1);  // the sheet alone
}

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

TEST_CASE("the shop's closing names what was still open") {
  const LedgerFolder folder;
  {
    OpenDoor door(folder.file(""));
    door.keep_sheet();
    door.record(ended_session());
    proto::Record closed;
    closed.mutable_shop_closed();
    door.record(closed);
  }
  LedgerStore store = sure(LedgerStore::open(folder.file(kLedgerFile), {}));
  Views views = sure(Views::open(store));
  REQUIRE(sure(views.closings()).size() == 1);
  CHECK(sure(views.closings())[0].closed.open_size() ==
        static_cast<int>(sure(views.standing()).size()));
}

TEST_CASE("a recorded session is the session of the list, with what the draft added") {
  const LedgerFolder folder;
  {
    OpenDoor door(folder.file(""));
    door.keep_sheet();
    proto::Record record = ended_session();
    record.mutable_session()->set_extraction_off(true);
    record.mutable_session()->mutable_draft()->set_people(4);
    record.mutable_session()->mutable_draft()->set_glue(true);
    CHECK(door.record(record).list().people() == 4);
    record.mutable_session()->mutable_now_file()->set_content("clock: \"21:00\"");
    CHECK(has(door.refused(record), "tick off what is done"));
  }
  LedgerStore store = sure(LedgerStore::open(folder.file(kLedgerFile), {}));
  Views views = sure(Views::open(store));
  const proto::Session session = sure(views.sessions()).at(0).ended.session();
  CHECK(session.people() == 4);
  CHECK(session.glue());
  CHECK(session.oily_rags());
  CHECK(session.uses_size() == 3);
  for (const proto::Use& use : session.uses()) CHECK_FALSE(use.extraction());
}
