#include "core/door/past.h"

#include <doctest/doctest.h>

#include "core/door/kept_falls.h"
#include "tests/unit/ledger_folder.h"
#include "tests/unit/small_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

constexpr std::int64_t kHour_ms = 60LL * 60 * 1000;

/// A ledger of the small shop that is written as its members would.
struct Diary {
  LedgerFolder folder;
  LedgerStore store = ledger(folder.file("ledger"));
  Shop shop = small_shop();

  EntryRef write(proto::Entry entry, double hour) {
    const auto at = kTestNow_ms + static_cast<std::int64_t>(hour * static_cast<double>(kHour_ms));
    entry.set_event_utc_ms(at);
    sure(store.append(entry, at));
    return {entry.device(), entry.sequence()};
  }

  EntryRef session(double hour, const std::string& machine = "saw-1",
                   const std::string& stock = "oak") {
    proto::Entry entry;
    proto::Session& ended = *entry.mutable_session_ended()->mutable_session();
    ended.set_name("An evening");
    ended.set_leave_at("21:30");
    proto::Use& use = *ended.add_uses();
    use.set_machine(machine);
    use.set_minutes(20);
    use.set_stock(stock);
    proto::DutyOwed& owed = *entry.mutable_session_ended()->add_owed();
    owed.set_id("zone:saw-floor");
    owed.set_title("Floor round the saw: Sweep");
    owed.set_kind("zone");
    owed.set_zone("saw-floor");
    owed.set_minutes(3);
    proto::DutyOwed& common = *entry.mutable_session_ended()->add_owed();
    common.set_id("common-dust");
    common.set_kind("common");
    common.set_zone("shelf");
    common.set_minutes(4);
    return write(entry, hour);
  }

  EntryRef done(double hour, const EntryRef& of, const std::string& id, const std::string& kind,
                double minutes = 0) {
    proto::Entry entry;
    proto::DutyDone& duty = *entry.mutable_duty_done();
    duty.mutable_duty()->set_id(id);
    if (!of.device.empty()) {
      duty.mutable_duty()->mutable_session()->set_device(of.device);
      duty.mutable_duty()->mutable_session()->set_sequence(of.sequence);
    }
    duty.set_kind(kind);
    if (minutes > 0) {
      duty.set_minutes(minutes);
      duty.set_estimated_minutes(3);
    }
    return write(entry, hour);
  }

  Past past() {
    Views views = sure(Views::open(store));
    return sure(past_of(views, shop));
  }
};

const PastEvent* find(const Past& past, PastEvent::Kind kind) {
  for (const PastEvent& event : past.events) {
    if (event.kind == kind) return &event;
  }
  return nullptr;
}

void check_same(const Carried& a, const Carried& b) {
  REQUIRE(a.sessions.size() == b.sessions.size());
  for (size_t i = 0; i < a.sessions.size(); ++i) {
    CHECK(a.sessions[i].lying_g == b.sessions[i].lying_g);
    CHECK(a.sessions[i].metal == b.sessions[i].metal);
    CHECK(a.sessions[i].scraps_m3 == b.sessions[i].scraps_m3);
    CHECK(a.sessions[i].solid_kg_per_m3 == b.sessions[i].solid_kg_per_m3);
  }
  CHECK(a.bin_fill == b.bin_fill);
  CHECK(a.filter_fine_g == b.filter_fine_g);
  for (size_t z = 0; z < a.zones.size(); ++z) CHECK(a.zones[z].lying_g == b.zones[z].lying_g);
}

}  // namespace

TEST_CASE(
    "a session and its cleaned floor become events of the shop's past, with the time they took") {
  Diary diary;
  const EntryRef session = diary.session(0);
  diary.done(0.5, session, "zone:saw-floor", "zone", 4);
  const Past past = diary.past();
  const PastEvent* ended = find(past, PastEvent::Kind::kSession);
  REQUIRE(ended != nullptr);
  CHECK(ended->at_ms == kTestNow_ms);
  REQUIRE(ended->session.uses.size() == 1);
  CHECK(ended->session.uses[0].machine == index_of(diary.shop.machines, "saw-1"));
  const PastEvent* cleaned = find(past, PastEvent::Kind::kZoneCleaned);
  REQUIRE(cleaned != nullptr);
  CHECK(cleaned->what == index_of(diary.shop.zones, "saw-floor"));
  REQUIRE(past.finished.size() == 1);
  CHECK(past.finished[0].kind == DutyKind::kZone);
  CHECK(past.finished[0].actual_minutes == 4);
  CHECK(past.unknown.empty());
}

TEST_CASE("shared dust is taken off the zone that the list named, for the minutes that it took") {
  Diary diary;
  const EntryRef session = diary.session(0);
  diary.done(0.5, session, "common-dust", "common");
  const Past past = diary.past();
  const PastEvent* common = find(past, PastEvent::Kind::kCommonDust);
  REQUIRE(common != nullptr);
  CHECK(common->what == index_of(diary.shop.zones, "shelf"));
  CHECK(common->minutes == 4);  // not timed: as listed
}

TEST_CASE("bins seen and emptied, filters cleaned, remarks and machines out are read") {
  Diary diary;
  proto::Entry seen;
  seen.mutable_bin_seen()->set_bin("drum");
  seen.mutable_bin_seen()->set_seen("full");
  diary.write(seen, 0);
  diary.done(1, {}, "empty-bin:drum", "bin");
  diary.done(2, {}, "clean-filter:main", "filter");
  proto::Entry remark;
  remark.mutable_zone_seen()->set_zone("");
  remark.mutable_zone_seen()->set_seen("cleaner");
  diary.write(remark, 3);
  proto::Entry out;
  out.mutable_machine_out()->set_machine("lathe-1");
  out.mutable_machine_out()->set_reason("belt slips");
  diary.write(out, 4);
  const Past past = diary.past();
  std::vector<double> fills;
  for (const PastEvent& event : past.events) {
    if (event.kind == PastEvent::Kind::kBinSeen) fills.push_back(event.fill);
  }
  CHECK(fills == std::vector<double>{1, 0});
  const PastEvent* filter = find(past, PastEvent::Kind::kFilterCleaned);
  REQUIRE(filter != nullptr);
  CHECK(filter->what == index_of(diary.shop.collectors, "main"));
  const PastEvent* cleaner = find(past, PastEvent::Kind::kZoneSeen);
  REQUIRE(cleaner != nullptr);
  CHECK(cleaner->what == kNone);
  CHECK_FALSE(cleaner->dirtier);
  CHECK(past.out_of_order[static_cast<size_t>(index_of(diary.shop.machines, "lathe-1"))]);
}

TEST_CASE("what an older sheet knew is left out by name, the rest of its session stays") {
  Diary diary;
  diary.session(0, "old-planer");
  proto::Entry both;
  proto::Session& session = *both.mutable_session_ended()->mutable_session();
  for (const char* machine : {"old-planer", "saw-1"}) {
    proto::Use& use = *session.add_uses();
    use.set_machine(machine);
    use.set_minutes(10);
    use.set_stock("oak");
  }
  session.add_gates_left_open("gate-of-old");
  diary.write(both, 1);
  diary.done(2, {}, "zone:old-floor", "zone");
  const Past past = diary.past();
  CHECK(past.unknown == std::vector<std::string>{"gate-of-old", "old-floor", "old-planer"});
  REQUIRE(past.events.size() == 1);
  CHECK(past.events[0].session.uses.size() == 1);
}

TEST_CASE("pending duties carry their reason, their age and the session that owed them") {
  Diary diary;
  const EntryRef session = diary.session(0);
  proto::Entry passed;
  proto::DutyPassedOn& duty = *passed.mutable_duty_passed_on();
  duty.mutable_duty()->set_id("zone:saw-floor");
  duty.mutable_duty()->mutable_session()->set_device(session.device);
  duty.mutable_duty()->mutable_session()->set_sequence(session.sequence);
  duty.set_reason("no time");
  diary.write(passed, 0.25);
  Views views = sure(Views::open(diary.store));
  const auto pending = sure(pending_of(views, kTestNow_ms + 2 * kHour_ms));
  REQUIRE(pending.size() == 2);  // the shared dust is open still
  CHECK(pending[0].id == "zone:saw-floor");
  CHECK(pending[0].passed_on);
  CHECK(pending[0].reason == "no time");
  CHECK(pending[0].age_minutes == doctest::Approx(120));
  CHECK(pending[0].session == "An evening");
  CHECK(pending[0].title == "Floor round the saw: Sweep");
  CHECK_FALSE(pending[1].passed_on);
}

TEST_CASE("kept falls give the same past as working it out, are dropped with the sheet, and heal") {
  Diary diary;
  const Overlay overlay = overlay_of(diary.shop);
  for (int i = 0; i < 5; ++i) diary.session(i);
  const Past past = diary.past();
  const auto until = kTestNow_ms + 100 * kHour_ms;
  KeptFalls falls = sure(KeptFalls::open(diary.store, "sheet 1"));
  int asked = 0;
  const auto counted = [&](KeptFalls& kept) {
    const FallSource source = kept.source(diary.shop, overlay);
    return [&, source](const PastEvent& session, const ShopState& found) {
      ++asked;
      return source(session, found);
    };
  };
  const auto carried = carry_forward(diary.shop, overlay, past.events, until, counted(falls));
  sure(falls.keep());
  CHECK(asked == 5);
  CHECK(diary.store.file().number_of("SELECT count(*) FROM kept_falls").value() == 5);

  KeptFalls again = sure(KeptFalls::open(diary.store, "sheet 1"));
  const auto kept = carry_forward(diary.shop, overlay, past.events, until, counted(again));
  check_same(kept, carried);
  sure(again.keep());

  sure(diary.store.file().run("UPDATE kept_falls SET bytes = x'0801'"));
  KeptFalls damaged = sure(KeptFalls::open(diary.store, "sheet 1"));
  const auto healed = carry_forward(diary.shop, overlay, past.events, until, counted(damaged));
  check_same(healed, carried);

  sure(KeptFalls::open(diary.store, "sheet 2").map([](const KeptFalls&) {}));
  CHECK(diary.store.file().number_of("SELECT count(*) FROM kept_falls").value() == 0);
}
