#include <doctest/doctest.h>

#include <cmath>

#include "tests/unit/open_door.h"

/// What a screen shows before and beside a list: what to pick from, the map, a list taken up again.

using namespace chipfall;
using namespace chipfall::test;

namespace {

proto::ShopLists lists_of(OpenDoor& door) {
  proto::Request request;
  request.mutable_list_shop();
  return door.sure_of(request).shop();
}

proto::Record session_of(const std::string& machine, double minutes, const std::string& stock) {
  proto::Record record;
  proto::Use& use = *record.mutable_session()->mutable_draft()->add_uses();
  use.set_machine(machine);
  use.set_minutes(minutes);
  use.set_stock(stock);
  return record;
}

proto::DustMap map_of(OpenDoor& door) {
  proto::Request request;
  request.mutable_draw_shop();
  return door.sure_of(request).map();
}

proto::Response list_of(OpenDoor& door) {
  proto::Request request;
  request.mutable_list();
  return door.ask(request);
}

}  // namespace

TEST_CASE("machines and stocks are offered in the order of last use, with what was done there") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  const proto::ShopLists before = lists_of(door);
  REQUIRE(before.machines_size() >= 2);
  REQUIRE(before.machines_by_use_size() == before.machines_size());
  CHECK(before.machines_by_use(0) == before.machines(0).id());
  CHECK(before.recent_size() == 0);
  CHECK_FALSE(before.machines(0).has_last());

  const std::string last_machine = "lathe-1";
  const std::string first_machine = before.machines(0).id();
  const std::string stock = "pine";
  door.record(session_of(first_machine, 25, stock));
  door.set_now(kTestNow_ms + 3'600'000);
  door.record(session_of(last_machine, 40, stock));
  door.set_now(kTestNow_ms + 7'200'000);
  door.record(session_of(last_machine, 40, stock));

  const proto::ShopLists after = lists_of(door);
  CHECK(after.machines(0).id() == before.machines(0).id());  // the sheet's own order stays
  CHECK(after.machines_by_use(0) == last_machine);
  CHECK(after.machines_by_use(1) == first_machine);
  CHECK(after.machines_by_use_size() == after.machines_size());
  CHECK(after.stocks_by_use(0) == stock);
  CHECK(after.stocks_by_use_size() == after.stocks_size());
  const proto::LastUse& last = after.machines(0).last();
  CHECK(last.minutes() == 25);
  CHECK(last.stock() == stock);
  CHECK(last.own());
  CHECK(last.utc_ms() == kTestNow_ms);
  // The same session twice is one thing to begin from.
  REQUIRE(after.recent_size() == 2);
  CHECK(after.recent(0).session().uses(0).machine() == last_machine);
  CHECK(after.recent(0).text().find(" 40 min") != std::string::npos);
  CHECK(after.recent(0).own());
}

TEST_CASE("a recent session begins a draft that gives a list") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  proto::Record record = ended_session();
  record.mutable_session()->mutable_draft()->set_leave_at("21:00");
  door.record(record);
  const proto::ShopLists lists = lists_of(door);
  REQUIRE(lists.recent_size() == 1);
  CHECK(lists.recent(0).session().leave_at().empty());
  CHECK(lists.recent(0).session().name().empty());
  proto::Request request;
  *request.mutable_wind_down()->mutable_draft() = lists.recent(0).session();
  CHECK(door.sure_of(request).wind_down().duties_size() > 3);
}

TEST_CASE("every word to choose from can be recorded") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  const proto::WindDown list = door.record(ended_session()).list();
  const proto::ShopLists lists = lists_of(door);
  REQUIRE(lists.pass_on_reasons_size() >= 4);
  for (const proto::Choice& choice : lists.pass_on_reasons()) {
    CHECK_FALSE(choice.text().empty());
    proto::Record record;
    record.mutable_passed_on()->mutable_duty()->set_id(list.duties(0).id());
    record.mutable_passed_on()->set_reason(choice.word());
    door.record(record);
  }
  int next = 1;
  for (const proto::Choice& choice : lists.not_needed_reasons()) {
    proto::Record record;
    record.mutable_not_needed()->mutable_duty()->set_id(list.duties(next++).id());
    record.mutable_not_needed()->set_reason(choice.word());
    door.record(record);
  }
  for (const proto::Choice& choice : lists.bin_looks()) {
    proto::Record record;
    record.mutable_bin_seen()->set_bin(lists.bins(0).id());
    record.mutable_bin_seen()->set_seen(choice.word());
    door.record(record);
  }
  for (const proto::Choice& choice : lists.zone_looks()) {
    proto::Record record;
    record.mutable_zone_seen()->set_zone(lists.zones(0).id());
    record.mutable_zone_seen()->set_seen(choice.word());
    door.record(record);
  }
}

TEST_CASE("the map of a session has all that a drawing needs, and agrees with its list") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  proto::Request request;
  *request.mutable_draw_map() = ended_session().session();
  const proto::DustMap map = door.sure_of(request).map();
  REQUIRE(map.zones_size() + 1 == map.answer().zones_size());
  for (const proto::MapZone& zone : map.zones()) {
    CAPTURE(zone.id());
    const auto& dust = *std::ranges::find(map.answer().zones(), zone.id(), &proto::ZoneDust::id);
    CHECK(zone.fallen_g() == doctest::Approx(dust.fallen_g()));
    CHECK(zone.layer_mm() == doctest::Approx(dust.layer_mm()));
    CHECK(zone.limit_mm() == doctest::Approx(dust.limit_mm()));
    CHECK(zone.load_g_per_m2() == doctest::Approx(dust.load_g_per_m2()));
    CHECK(zone.name() == dust.name());
    Polygon corners;
    for (int i = 0; i + 1 < zone.corners_m_size(); i += 2) {
      corners.push_back({zone.corners_m(i), zone.corners_m(i + 1)});
    }
    CHECK(contains(corners, {zone.label_x_m(), zone.label_y_m()}));
  }
  CHECK(map.open_floor().lying_g() ==
        doctest::Approx(map.answer().zones(map.zones_size()).before_g() +
                        map.answer().zones(map.zones_size()).fallen_g()));
  double escaped_g = 0, thrown_g = 0;
  for (const proto::MapMachine& machine : map.machines()) {
    CHECK(machine.throws_size() > 0);
    CHECK((machine.clean_out_m() > 0) == machine.used());
    for (const proto::MapThrow& thrown : machine.throws()) {
      CHECK(thrown.along_m() > 0);
      thrown_g += thrown.escaped_g();
    }
  }
  for (const proto::UseDust& use : map.answer().uses()) escaped_g += use.escaped_g();
  CHECK(thrown_g == doctest::Approx(escaped_g));
  REQUIRE(map.bins_size() == map.answer().bins_size());
  CHECK(map.bins(0).fill_share() == map.answer().bins(0).after_share());
  REQUIRE(map.places_size() > 0);
  CHECK(map.places(0).kind() == "start");
  const proto::AirAnswer& air = map.answer().air();
  CHECK(air.session_minutes() > 0);
  CHECK(air.session_minutes() <= air.curve_minutes(air.curve_minutes_size() - 1));
}

TEST_CASE("an ellipse of the map holds 95 hundredths of a planar normal") {
  // exp(-r^2/2) is the share outside r standard deviations.
  const double r = std::sqrt(-2 * std::log(0.05));
  CHECK(std::exp(-r * r / 2) == doctest::Approx(0.05));
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  const proto::DustMap map = map_of(door);
  const OpenShop open = *open_shop({"shop", own_sheet()});
  const proto::MapThrow& thrown = map.machines(0).throws(0);
  const MachineKind& kind = open.shop.machines[0].kind;
  bool found = false;
  for (const ChipClass chips : kAllClasses) {
    if (name(chips) != thrown.class_()) continue;
    found = true;
    CHECK(thrown.along_m() == doctest::Approx(r * kind.thrown[chips].along_m));
    CHECK(thrown.across_m() == doctest::Approx(r * kind.thrown[chips].across_m));
  }
  CHECK(found);
}

TEST_CASE(
    "the map of the shop tells what lies there now and how full the bins are believed to be") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  const proto::DustMap clean = map_of(door);
  CHECK_FALSE(clean.has_answer());
  CHECK(clean.zones(0).lying_g() == 0);
  CHECK(clean.zones(0).area_m2() > 0);
  CHECK_FALSE(clean.bins(0).known());
  door.record(ended_session());
  proto::Record seen;
  seen.mutable_bin_seen()->set_bin(clean.bins(0).id());
  seen.mutable_bin_seen()->set_seen("full");
  door.record(seen);
  proto::Record out;
  out.mutable_machine_out()->set_machine(clean.machines(0).id());
  out.mutable_machine_out()->set_reason("belt");
  door.record(out);
  door.set_now(kTestNow_ms + 86'400'000);
  const proto::DustMap map = map_of(door);
  double lying_g = map.open_floor().lying_g();
  for (const proto::MapZone& zone : map.zones()) lying_g += zone.lying_g();
  CHECK(lying_g > 1);
  CHECK(map.bins(0).known());
  CHECK(map.bins(0).fill_share() > 0.7);
  CHECK(map.machines(0).out());
  CHECK(lists_of(door).machines(0).out_reason() == "belt");
}

TEST_CASE("without a folder there is a map all the same, of a clean shop") {
  OpenDoor door("");
  proto::Request request;
  request.mutable_load_sheet()->mutable_sheet()->set_content(own_sheet());
  door.sure_of(request);
  CHECK(map_of(door).zones_size() > 0);
  CHECK(lists_of(door).machines_by_use_size() == lists_of(door).machines_size());
}

TEST_CASE("a list can be taken up again after the shell was closed, with what became of it") {
  const LedgerFolder folder;
  proto::WindDown list;
  {
    OpenDoor door(folder.file(""));
    door.keep_sheet();
    CHECK(list_of(door).mistakes(0).message().find("no session has ended") != std::string::npos);
    list = door.record(ended_session()).list();
    door.record(done(list.duties(0).id()));
    proto::Record pass;
    pass.mutable_passed_on()->mutable_duty()->set_id(list.duties(1).id());
    pass.mutable_passed_on()->set_reason("no time");
    door.record(pass);
  }
  OpenDoor door(folder.file(""));
  const proto::ListNow now = list_of(door).list();
  REQUIRE(now.duties_size() == list.duties_size());
  for (int i = 0; i < list.duties_size(); ++i) {
    CHECK(now.duties(i).owed().id() == list.duties(i).id());
  }
  CHECK(now.duties(0).ending() == "done");
  CHECK_FALSE(now.duties(0).ended().empty());
  CHECK(now.duties(1).ending() == "passed on");
  CHECK(now.duties(1).reason() == "no time");
  CHECK(now.duties(2).ending() == "open");
  CHECK(now.open() == list.duties_size() - 2);
  proto::Request request;
  request.mutable_list()->mutable_session()->set_device("nobody");
  request.mutable_list()->mutable_session()->set_sequence(7);
  CHECK(door.ask(request).mistakes(0).message().find("not on this device") != std::string::npos);
}
