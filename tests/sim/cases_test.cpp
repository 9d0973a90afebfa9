#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <random>

#include "tests/sim/sure.h"
#include "tests/sim/world.h"

/// Single cases, told step by step.
namespace chipfall::sim {
namespace {

Weather calm(int phones) {
  Weather weather;
  weather.phones = phones;
  weather.members = 0;
  return weather;
}

TEST_CASE("case 11: five hundred entries made without a network arrive in order once it is back") {
  World world(1, calm(2));
  world.phone(0).online = false;
  world.append(world.phone(0), 500);
  for (int i = 0; i < 200; ++i) world.step();
  CHECK(world.phone(0).state->outbox()->waiting == 500);
  REQUIRE(world.heal());
  CHECK(world.check() == "");
  CHECK(world.phone(0).state->outbox()->at_hub == 500);
}

TEST_CASE("case 24: an entry that the hub refuses for ever is parked, shown, and the rest flows") {
  World world(2, calm(2));
  REQUIRE(world.heal());
  World::Phone& phone = world.phone(0);
  world.append(phone, 5);
  world.log().refuses = [name = phone.state->device()](const std::string& device,
                                                       std::uint64_t sequence) {
    return device == name && sequence == 2;
  };
  for (int connection = 0; connection < kTriesBeforeParking; ++connection) {
    for (int i = 0; i < 200; ++i) world.step();
    world.cut(phone);
  }
  for (int i = 0; i < 2000; ++i) world.step();
  const auto parked = phone.state->parked();
  REQUIRE(parked.has_value());
  REQUIRE(parked->size() == 1);
  CHECK(parked->front().sequence == 2);
  CHECK(parked->front().tries == kTriesBeforeParking);
  const auto progress = phone.machine->progress();
  CHECK(progress->parked == 1);
  CHECK(progress->at_hub == 4);
  CHECK(progress->saved_here == 0);

  world.log().refuses = {};  // the hub was mended, and somebody offers it again
  REQUIRE(phone.state->unpark(phone.state->device(), 2).has_value());
  world.cut(phone);
  REQUIRE(world.heal());
  CHECK(phone.machine->progress()->at_hub == 5);
  CHECK(phone.state->parked()->empty());
}

constexpr std::int64_t kDay_ms = 24LL * 60 * 60 * 1000;

proto::Entry session_owing(const std::vector<std::string>& duties) {
  proto::Entry entry;
  for (const std::string& id : duties) {
    entry.mutable_session_ended()->add_owed()->set_id(id);
    entry.mutable_session_ended()->mutable_owed()->rbegin()->set_title("list");
  }
  return entry;
}

proto::Entry done(const std::string& id, const EntryRef& session, const std::string& token) {
  proto::Entry entry;
  proto::DutyDone& duty = *entry.mutable_duty_done();
  duty.mutable_duty()->set_id(id);
  duty.mutable_duty()->mutable_session()->set_device(session.device);
  duty.mutable_duty()->mutable_session()->set_sequence(session.sequence);
  duty.set_kind(token);
  return entry;
}

TEST_CASE(
    "case 19: a phone that slept for a night sends one ping, then comes back and catches up") {
  World world(3, calm(2));
  REQUIRE(world.heal());
  World::Phone& sleeper = world.phone(0);
  for (const bool steady_stands_still : {true, false}) {
    world.append(world.phone(1), 3);
    REQUIRE(world.heal());
    const std::uint64_t last = sure(world.log().last_position());
    // Its timers stand still for eight hours, or all of them are due at once.
    world.pass(8 * 3'600'000);
    if (steady_stands_still) sleeper.slept_ms += 8 * 3'600'000;
    world.append(world.phone(1), 3);
    DeviceActions woken = sleeper.machine->tick(
        {kStart_utc_ms + world.now_ms(), world.now_ms() - sleeper.slept_ms + 1});
    CHECK(woken.send.size() <= 1);
    REQUIRE(world.heal());
    CHECK(sure(world.log().last_position()) == last + 3);  // no clock was measured anew
    CHECK(world.check() == "");
  }
}

TEST_CASE("case 19: two hundred phones that wake at once do not come at once for long") {
  World world(4, calm(2));
  std::mt19937 chance(4);
  const Random random = [&](std::size_t count) {
    std::string bytes(count, '\0');
    for (char& byte : bytes) byte = static_cast<char>(chance());
    return bytes;
  };
  constexpr int kPhones = 200;
  constexpr std::int64_t kAway_ms = 30 * 60'000;  // the hub is away so long
  std::map<std::int64_t, int> tries;              // by second
  std::int64_t longest_ms = 0;
  for (int i = 0; i < kPhones; ++i) {
    DeviceMachine machine(*world.phone(0).state, random);
    for (std::int64_t at_ms = 0; at_ms < kAway_ms;) {
      ++tries[at_ms / 1000];
      const auto next = machine.disconnected({kStart_utc_ms + at_ms, at_ms}).connect_at_steady_ms;
      REQUIRE(next.has_value());
      longest_ms = std::max(longest_ms, *next - at_ms);
      at_ms = *next + 1;
    }
  }
  int most_late = 0, all = 0;
  for (const auto& [second, count] : tries) {
    all += count;
    if (second >= 300) most_late = std::max(most_late, count);
  }
  CHECK(longest_ms <= kMostBackoff_ms);
  CHECK(most_late <= 10);     // of two hundred, in any second after five minutes
  CHECK(all < kPhones * 30);  // in half an hour
  CHECK(all > kPhones * 8);   // yet nobody gives up
}

TEST_CASE("case 23: away for 400 days, a phone catches up in pages and its own entries count") {
  World world(5, calm(2));
  World::Phone& away = world.phone(0);
  World::Phone& here = world.phone(1);
  world.record(here, session_owing({"zone:loft", "zone:gallery"}));
  const EntryRef list{here.state->device(), 1};
  REQUIRE(world.heal());

  away.online = false;
  world.cut(away);
  world.record(away, done("zone:gallery", list, "done before it went away"));
  world.record(here, done("zone:loft", list, "done while it was away"));
  for (int month = 0; month < 10; ++month) {
    world.pass(40 * kDay_ms);
    world.append(here, 500);
    for (int i = 0; i < 50; ++i) world.step();
  }
  world.record(away, done("zone:gallery", list, "done again after 400 days"));
  const int pages = world.reached.pages;
  REQUIRE(world.heal());
  // Bounds on frames, and on pages without credit, are watched at every frame.
  CHECK(world.check() == "");
  CHECK(world.reached.pages - pages >= 5'000 / 200);
  CHECK(away.machine->progress()->saved_here == 0);

  for (std::size_t i = 0; i < world.phones(); ++i) {
    Views& views = *world.phone(i).views;
    for (const StandingDuty& duty : sure(views.list_of(list))) {
      if (duty.owed.title().empty()) continue;  // of others' endings
      CHECK_MESSAGE(duty.ending == DutyEnding::kDone, duty.owed.id());
    }
    for (const StandingDuty& duty : sure(views.standing())) {
      const bool resurrected = duty.session && *duty.session == list;
      CHECK_FALSE(resurrected);
    }
  }
}

/// Three phones that were apart each say two things about one duty and one machine. What all of
/// them say in the end, where they come back in this order.
std::string told_after(const std::array<int, 3>& order) {
  World world(6, calm(3));
  world.record(world.phone(0), session_owing({"zone:floor"}));
  proto::Entry out;
  out.mutable_machine_out()->set_machine("saw");
  out.mutable_machine_out()->set_reason("fence slips");
  world.record(world.phone(0), out);
  REQUIRE(world.heal());
  const std::string name = world.phone(0).state->device();
  for (int i = 0; i < 3; ++i) {
    world.phone(std::size_t(i)).online = false;
    world.cut(world.phone(std::size_t(i)));
  }
  const EntryRef list{name, 1};
  proto::Entry back;
  back.mutable_machine_back()->set_machine("saw");
  back.mutable_machine_back()->mutable_seen()->set_device(name);
  back.mutable_machine_back()->mutable_seen()->set_sequence(2);
  proto::Entry not_needed;
  *not_needed.mutable_duty_not_needed()->mutable_duty() =
      done("zone:floor", list, "").duty_done().duty();
  not_needed.mutable_duty_not_needed()->set_reason("was clean");
  back.mutable_machine_back()->set_note("mended by the first");
  world.record(world.phone(0), done("zone:floor", list, "done by the first"));
  world.record(world.phone(0), back);
  world.pass(5'000);
  world.record(world.phone(1), not_needed);
  back.mutable_machine_back()->set_note("mended by the second");
  world.record(world.phone(1), back);
  world.pass(5'000);
  world.record(world.phone(2), done("zone:floor", list, "done by the third"));
  out.mutable_machine_out()->set_reason("smells of smoke");
  world.record(world.phone(2), out);  // after both backs by the clock, which had not seen it

  for (const int phone : order) {
    world.phone(std::size_t(phone)).online = true;
    for (int i = 0; i < 400; ++i) world.step();
  }
  REQUIRE(world.heal());
  CHECK(world.check() == "");
  CHECK(sure(world.phone(0).views->machines_out()).size() == 1);
  CHECK(sure(world.phone(1).views->list_of(list)).size() == 1);
  return sure(world.phone(std::size_t(order[0])).views->dump());
}

TEST_CASE(
    "case 25: who ended a duty, and what a machine is, are the same in whatever order they come") {
  std::array<int, 3> order = {0, 1, 2};
  const std::string told = told_after(order);
  int orders = 1;
  while (std::next_permutation(order.begin(), order.end())) {
    ++orders;
    CHECK(told_after(order) == told);
  }
  CHECK(orders == 6);
}

/// What a phone and its hub need to say until thirty thousand entries of each are at the other,
/// where the phone gets slices of time and its program is killed after each but the last.
struct Slices {
  std::int64_t bytes = 0;
  int killed = 0;
  bool done = false;
};

Slices synced_in_slices(std::int64_t longest_ms) {
  constexpr int kEntries = 30'000;
  World world(7, calm(2));
  REQUIRE(world.heal());
  World::Phone& phone = world.phone(0);
  phone.online = false;
  world.cut(phone);
  for (int i = 0; i < kEntries; i += 1'000) world.append(world.phone(1), 1'000);
  REQUIRE(world.phone(1).machine->state() == DeviceMachine::State::kSyncing);
  while (sure(world.phone(1).state->outbox()).waiting > 0) world.step();
  for (int i = 0; i < kEntries; i += 1'000) world.append(phone, 1'000);
  world.phone(1).online = false;
  world.cut(world.phone(1));
  phone.online = true;

  Slices slices;
  std::mt19937 chance(7);
  const std::int64_t before = world.carried_bytes();
  const std::uint64_t goal = sure(world.log().last_position()) + std::uint64_t(kEntries);
  const auto done = [&] {
    return phone.state->place().cursor >= goal && sure(phone.state->outbox()).waiting == 0;
  };
  while (!done() && slices.killed < 2'000) {
    const SyncPlace was = phone.state->place();
    const std::int64_t slice_ms = 1 + std::int64_t(chance()) % longest_ms;
    const std::int64_t until = world.now_ms() + slice_ms;
    while (world.now_ms() < until && !done()) world.step();
    if (done()) break;
    world.pass(30'000);  // frozen
    world.crash_phone(phone);
    const SyncPlace& now = phone.state->place();
    CHECK(now.cursor >= was.cursor);
    CHECK(now.acked >= was.acked);
    ++slices.killed;
  }
  slices.done = done();
  slices.bytes = world.carried_bytes() - before;
  REQUIRE(world.heal());
  CHECK(world.check() == "");
  return slices;
}

TEST_CASE(
    "case 28: a phone frozen and killed a hundred times goes on, and repeats little each time") {
  const Slices ideal = synced_in_slices(1'000'000'000);
  REQUIRE(ideal.killed == 0);
  // Slices of up to 20 s, as a phone's background gives, over a network of 5 kB/s.
  const Slices killed = synced_in_slices(20'000);
  const double ratio = double(killed.bytes) / double(ideal.bytes);
  MESSAGE("killed " << killed.killed << " times: " << ratio << " of " << ideal.bytes << " bytes");
  CHECK(killed.killed >= 8);
  CHECK(ratio <= 1.2);

  // A slice of a second or two has hardly said hello; what it repeats is bounded all the same.
  const Slices often = synced_in_slices(3'000);
  const std::int64_t repeated = (often.bytes - ideal.bytes) / std::max(1, often.killed);
  MESSAGE("killed " << often.killed << " times: " << repeated << " bytes more each time");
  CHECK(often.killed >= 100);
  CHECK(often.done);
  CHECK(repeated <= 6'000);  // a greeting, and a batch of either direction
}

}  // namespace
}  // namespace chipfall::sim
