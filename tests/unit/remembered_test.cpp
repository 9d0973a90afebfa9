#include "core/door/remembered.h"

#include <doctest/doctest.h>

#include "tests/unit/open_door.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

constexpr std::int64_t kHour_ms = 60LL * 60 * 1000;

struct WatchedShop {
  LedgerFolder folder;
  OpenDoor door{folder.file("")};
  std::int64_t now_ms = kTestNow_ms;

  WatchedShop() { door.keep_sheet(); }

  void later(double hours) {
    now_ms += static_cast<std::int64_t>(hours * static_cast<double>(kHour_ms));
    door.set_now(now_ms);
  }

  proto::WindDown list() {
    proto::Request request;
    *request.mutable_wind_down() = ended_session().session();
    return door.sure_of(request).wind_down();
  }

  proto::LockUp lock_up(int people = 1) {
    proto::Request request;
    request.mutable_lock_up()->set_people(people);
    return door.sure_of(request).lock_up();
  }

  proto::Coordinator overview() {
    proto::Request request;
    request.mutable_coordinator()->set_next_round_days(7);
    return door.sure_of(request).coordinator();
  }

  void see_bin(const std::string& bin, const std::string& seen) {
    proto::Record record;
    record.mutable_bin_seen()->set_bin(bin);
    record.mutable_bin_seen()->set_seen(seen);
    door.record(record);
  }
};

template <typename List>
auto find(const List& list, const std::string& id) {
  return std::ranges::find_if(list, [&](const auto& each) { return each.id() == id; });
}

double before_g(const proto::WindDown& list, const std::string& zone) {
  const auto found = find(list.zones(), zone);
  REQUIRE(found != list.zones().end());
  return found->before_g();
}

}  // namespace

TEST_CASE("the next list finds the dust that the last session left, less what was cleaned") {
  WatchedShop evening;
  CHECK(before_g(evening.list(), "saw-floor") == 0);
  evening.door.record(ended_session());
  evening.later(0.5);
  const double left = before_g(evening.list(), "saw-floor");
  CHECK(left > 100);
  evening.door.record(done("zone:saw-floor"));
  evening.later(0.5);
  const double swept = before_g(evening.list(), "saw-floor");
  CHECK(swept > 0);
  CHECK(swept < 0.25 * left);
}

TEST_CASE("a bin said to be full is on the next list, and off it once it was emptied") {
  WatchedShop evening;
  evening.see_bin("drum", "full");
  evening.later(1);
  const auto full = evening.list();
  CHECK(find(full.duties(), "empty-bin:drum") != full.duties().end());
  proto::Record emptied;
  emptied.mutable_bin_emptied()->set_bin("drum");
  evening.door.record(emptied);
  evening.later(1);
  const auto empty = evening.list();
  CHECK(find(empty.duties(), "empty-bin:drum") == empty.duties().end());
}

TEST_CASE("minutes that were recorded change the next list's") {
  WatchedShop evening;
  const auto minutes = [&] {
    const proto::WindDown list = evening.list();
    const auto duty = find(list.duties(), "zone:bench");
    REQUIRE(duty != list.duties().end());
    return std::pair(duty->minutes(), duty->published_minutes());
  };
  for (int i = 0; i < 8; ++i) {
    evening.door.record(ended_session());
    evening.later(0.25);
    proto::Record slow = done("zone:bench");
    slow.mutable_done()->set_minutes(3 * minutes().second);
    evening.door.record(slow);
    evening.later(24);
  }
  CHECK(minutes().first > 1.5 * minutes().second);
}

TEST_CASE(
    "what was passed on comes back to the lock-up and, once its crew has gone, to the next list") {
  WatchedShop evening;
  proto::Record short_of_time = ended_session();
  short_of_time.mutable_session()->set_within_minutes(2);
  const proto::Recorded recorded = evening.door.record(short_of_time);
  REQUIRE(recorded.list().passed_on_size() > 0);
  const std::string passed = recorded.list().passed_on(0).duty();
  evening.later(2);

  const proto::LockUp lock_up = evening.lock_up();
  const auto closing = std::ranges::find_if(lock_up.duties(), [&](const auto& duty) {
    return std::ranges::any_of(duty.owed_by(), [&](const auto& by) { return by.duty() == passed; });
  });
  REQUIRE(closing != lock_up.duties().end());
  CHECK(closing->since().find("passed on 2 h ago") != std::string::npos);
  CHECK(closing->owed_by(0).device() == recorded.entry().device());

  // Somebody else's short visit: some of it comes along, with its reason.
  proto::Request visit;
  proto::Use& use = *visit.mutable_wind_down()->mutable_draft()->add_uses();
  use.set_machine("grinder-1");
  use.set_minutes(5);
  use.set_stock("steel");
  const proto::WindDown list = evening.door.sure_of(visit).wind_down();
  const bool told = std::ranges::any_of(list.duties(), [](const auto& duty) {
    return duty.why().find("passed on") != std::string::npos;
  });
  CHECK(told);
}

TEST_CASE("the lock-up of a shop that was swept and left in order is the building's own") {
  WatchedShop evening;
  const proto::LockUp lock_up = evening.lock_up(2);
  REQUIRE(lock_up.duties_size() > 0);
  CHECK(lock_up.lanes_size() == 2);
  CHECK(std::ranges::all_of(lock_up.duties(), [](const auto& duty) { return duty.building(); }));
  CHECK(lock_up.sign_off_size() > 0);
}

TEST_CASE("tonight's gates, rags and sparks reach the lock-up, last week's do not") {
  WatchedShop evening;
  evening.door.record(ended_session());  // leaves the sweep gate open, and oily rags
  evening.later(1);
  const proto::LockUp tonight = evening.lock_up();
  evening.later(24 * 7);
  const proto::LockUp later = evening.lock_up();
  // Whether a duty of that kind about that place says so, in its own words.
  const auto says = [](const proto::LockUp& list, const std::string& id, std::string_view words) {
    const auto duty = std::ranges::find(list.duties(), id, &proto::ClosingDuty::id);
    REQUIRE_MESSAGE(duty != list.duties().end(), id);
    std::string said = duty->why() + "\n" + duty->place();
    for (const std::string& step : duty->steps()) said += "\n" + step;
    return said.find(words) != std::string::npos;
  };
  CHECK(says(tonight, "lock-gates:sweep", "sweep (left open)"));
  CHECK_FALSE(says(tonight, "lock-gates:g1", "(left open)"));
  CHECK_FALSE(says(later, "lock-gates:sweep", "(left open)"));
  CHECK(says(tonight, "lock-rags", "Oily rags were in use tonight"));
  CHECK_FALSE(says(later, "lock-rags", "Oily rags were in use"));
  CHECK(says(tonight, "lock-warm-dust:tub", "Metal sparks flew tonight"));
  CHECK_FALSE(says(later, "lock-warm-dust:tub", "sparks flew"));
}

TEST_CASE("the coordinator hears of bins, machines and supplies in one answer") {
  WatchedShop evening;
  evening.see_bin("tub", "full");
  proto::Record out;
  out.mutable_machine_out()->set_machine("lathe-1");
  out.mutable_machine_out()->set_reason("belt slips");
  evening.door.record(out);
  evening.later(2);
  const proto::Coordinator overview = evening.overview();
  REQUIRE(overview.bins().bins_size() == 4);
  CHECK(overview.bins().bins(0).id() == "tub");  // most pressing first
  CHECK(overview.bins().bins(0).evidence().find("seen full") != std::string::npos);
  REQUIRE(overview.round().stops_size() == 1);
  CHECK(overview.round().stops(0).bin() == "tub");
  REQUIRE(overview.machines_out_size() == 1);
  CHECK(overview.machines_out(0).reason() == "belt slips");
  CHECK(overview.machines_out(0).try_first_size() > 2);
}

TEST_CASE("a clock that is ahead empties no bin and cleans no floor") {
  WatchedShop evening;
  evening.door.record(ended_session());
  evening.see_bin("drum", "full");
  evening.later(1);
  const double left = before_g(evening.list(), "saw-floor");
  proto::Record ahead = done("zone:saw-floor");
  ahead.set_event_utc_ms(evening.now_ms + 12 * kHour_ms);
  evening.door.record(ahead);
  CHECK(before_g(evening.list(), "saw-floor") == doctest::Approx(left));
  evening.later(13);
  CHECK(before_g(evening.list(), "saw-floor") < left);
}

TEST_CASE("days never fall, also in the night that has 25 hours, and begin at midnight") {
  const ShopClock clock("America/Chicago");
  const DayOf days = day_of(clock);
  constexpr std::int64_t kNoon_ms = 1'793'466'000'000;  // 2026-10-31, the day before
  double before = days(kNoon_ms);
  for (std::int64_t at = kNoon_ms; at < kNoon_ms + 48 * kHour_ms; at += 60'000) {
    const double day = days(at);
    CHECK(day >= before);
    CHECK(day - before < 1.0 / 1000);
    before = day;
  }
  const std::int64_t midnight_ms = clock.nearest_ms(0, kNoon_ms);
  CHECK(days(midnight_ms) == doctest::Approx(static_cast<double>(clock.day_number(midnight_ms))));
}

TEST_CASE("the lock-up and the round refuse figures that cannot be, by name") {
  WatchedShop evening;
  proto::Request request;
  request.mutable_lock_up()->set_people(5000);
  request.mutable_lock_up()->set_begin_at("late");
  const proto::Response response = evening.door.ask(request);
  REQUIRE(response.mistakes_size() == 2);
  CHECK(response.mistakes(0).path() == "people");
  CHECK(response.mistakes(1).path() == "begin_at");
  request.mutable_round()->set_next_round_days(-1);
  REQUIRE(evening.door.ask(request).mistakes_size() == 1);
  CHECK(evening.door.ask(request).mistakes(0).path() == "next_round_days");
}

TEST_CASE("what was read a minute ago serves as well as reading it again") {
  WatchedShop waiting;
  waiting.door.record(ended_session());
  waiting.door.record(done("zone:saw-floor"));
  waiting.see_bin("drum", "half");
  waiting.list();
  waiting.later(30);
  const std::string again = waiting.list().SerializeAsString();
  const std::string overview = waiting.overview().SerializeAsString();
  OpenDoor fresh{waiting.folder.file("")};
  fresh.set_now(waiting.now_ms);
  proto::Request request;
  *request.mutable_wind_down() = ended_session().session();
  CHECK(fresh.sure_of(request).wind_down().SerializeAsString() == again);
  request.mutable_coordinator()->set_next_round_days(7);
  CHECK(fresh.sure_of(request).coordinator().SerializeAsString() == overview);
}
