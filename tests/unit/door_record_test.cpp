#include "core/door/door.h"

#include <cmath>
#include <optional>

#include <doctest/doctest.h>

#include "tests/unit/open_door.h"

/// Recording: what ends duties, what people saw, and what is wrong with a request.

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

TEST_CASE(
    "what a shell's clock says of a duty counts where it can be the work and nobody says better") {
  struct Case {
    std::optional<double> clock, said;
    double kept;  // 0: none
  };
  const Case cases[] = {
      {4.2, {}, 4}, {4.2, 7, 7}, {0.1, {}, 0}, {600, {}, 0}, {-3, {}, 0}, {NAN, {}, 0}, {{}, 7, 7},
  };
  for (const Case& one : cases) {
    CAPTURE(one.clock.value_or(-1));
    const LedgerFolder folder;
    {
      OpenDoor door(folder.file(""));
      door.keep_sheet();
      proto::Record record = done(door.record(ended_session()).list().duties(0).id());
      if (one.clock) record.set_clock_minutes(*one.clock);
      if (one.said) record.mutable_done()->set_minutes(*one.said);
      door.record(record);
    }
    LedgerStore store = sure(LedgerStore::open(folder.file(kLedgerFile), {}));
    Views views = sure(Views::open(store));
    const auto facts = sure(views.done());
    REQUIRE(facts.size() == 1);
    CHECK(facts[0].done.has_minutes() == (one.kept > 0));
    CHECK(facts[0].done.minutes() == one.kept);
  }
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
