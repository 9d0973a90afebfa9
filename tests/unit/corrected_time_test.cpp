#include "core/ledger/corrected_time.h"

#include <doctest/doctest.h>

#include <limits>

#include "core/ledger/clock.h"
#include "tests/unit/told_entries.h"

using namespace chipfall;

namespace {

constexpr std::int64_t kYear_ms = 365 * kDay_ms;

CorrectedTime certain(std::int64_t at_ms) { return {at_ms, false}; }
CorrectedTime doubtful(std::int64_t at_ms) { return {at_ms, true}; }

/// When the notes of these phones happened, corrected, in minutes since kTestNow_ms.
std::vector<std::int64_t> note_minutes(const Phones& phones) {
  ToldLedger told(phones);
  std::vector<std::int64_t> minutes;
  for (const NoteFact& fact : sure(told.views().notes())) {
    CHECK_FALSE(fact.told.doubtful);
    minutes.push_back((fact.told.at_ms - kTestNow_ms) / kMinute_ms);
  }
  return minutes;
}

using Minutes = std::vector<std::int64_t>;

}  // namespace

TEST_CASE(
    "a measurement holds for the entries before it up to the one before, and after the last") {
  CHECK(ahead_ms({}, 5) == 0);
  const ClockMeasurements measured = {{3, 100}, {7, -20}};
  CHECK(ahead_ms(measured, 1) == 100);
  CHECK(ahead_ms(measured, 3) == 100);
  CHECK(ahead_ms(measured, 4) == -20);
  CHECK(ahead_ms(measured, 7) == -20);
  CHECK(ahead_ms(measured, 8) == -20);
  CHECK(range_of(measured, 3) == MeasuredRange{0, 3});
  CHECK(range_of(measured, 7) == MeasuredRange{3, std::numeric_limits<std::uint64_t>::max()});
}

TEST_CASE("a claim that can be is corrected by the measurement alone") {
  CHECK(corrected_time(kTestNow_ms, kTestNow_ms, 0) == certain(kTestNow_ms));
  CHECK(corrected_time(kTestNow_ms + kYear_ms, kTestNow_ms + kYear_ms, kYear_ms) ==
        certain(kTestNow_ms));
  CHECK(corrected_time(kTestNow_ms - kYear_ms, kTestNow_ms - kYear_ms, -kYear_ms) ==
        certain(kTestNow_ms));
  CHECK(corrected_time(1000, 2000, 1000 - kTestNow_ms) == certain(kTestNow_ms));
  // Told days later: a claim may lie before its entry's clock as far as it likes.
  CHECK(corrected_time(kTestNow_ms - 9 * kDay_ms, kTestNow_ms, 0) ==
        certain(kTestNow_ms - 9 * kDay_ms));
}

TEST_CASE("a claim that cannot be gives way to the entry's corrected clock, and is marked") {
  CHECK(corrected_time(0, kTestNow_ms, 0) == doubtful(kTestNow_ms));
  CHECK(corrected_time(kTestNow_ms + kYear_ms, kTestNow_ms, 0) == doubtful(kTestNow_ms));
  CHECK(corrected_time(kTestNow_ms + 3 * kYear_ms, kTestNow_ms + kYear_ms, kYear_ms) ==
        doubtful(kTestNow_ms));
  CHECK(corrected_time(kTestNow_ms + kMostFuture_ms, kTestNow_ms, 0) ==
        certain(kTestNow_ms + kMostFuture_ms));
  CHECK(corrected_time(kTestNow_ms + kMostFuture_ms + 1, kTestNow_ms, 0) == doubtful(kTestNow_ms));
  CHECK(corrected_time(kEarliestEvent_ms - 1, kTestNow_ms, 0) == doubtful(kTestNow_ms));
  // A phone that woke in 1970 and was never measured: the earliest time there is.
  CHECK(corrected_time(5, 5, 0) == doubtful(kEarliestEvent_ms));
}

TEST_CASE("no claim, clock or measurement overflows") {
  constexpr std::int64_t kLeast = std::numeric_limits<std::int64_t>::min();
  constexpr std::int64_t kMost = std::numeric_limits<std::int64_t>::max();
  for (const std::int64_t event : {kLeast, std::int64_t{0}, kMost}) {
    for (const std::int64_t wall : {kLeast, std::int64_t{0}, kMost}) {
      for (const std::int64_t ahead : {kLeast, std::int64_t{0}, kMost}) {
        const CorrectedTime time = corrected_time(event, wall, ahead);
        CHECK(time.at_ms >= kEarliestEvent_ms);
        CHECK(time.at_ms <= kLatestWall_ms);
      }
    }
  }
  CHECK(ahead_ms({{1, kLeast}}, 1) == -kLatestWall_ms);
}

TEST_CASE("phones a year ahead, a year behind and in 1970 tell the right times once measured") {
  for (const std::int64_t ahead : {kYear_ms, -kYear_ms, -kTestNow_ms + kDay_ms}) {
    Phones phones;
    phones.set_ahead("a", ahead);
    phones.note("a", 0, "before");
    phones.measured("a", 10);
    phones.note("a", 20, "after");
    CHECK(note_minutes(phones) == Minutes{0, 20});
  }
}

TEST_CASE("a clock set back during a session is corrected on both sides of the two measurements") {
  Phones phones;
  phones.set_ahead("a", 3 * kDay_ms);
  phones.note("a", 0, "ahead");
  phones.measured("a", 10);
  phones.set_ahead("a", -kDay_ms);
  phones.note("a", 20, "set back");
  phones.measured("a", 30);
  phones.note("a", 40, "later");
  CHECK(note_minutes(phones) == Minutes{0, 20, 40});
}

TEST_CASE("one phone's measurement does not touch another's times") {
  Phones phones;
  phones.set_ahead("a", kYear_ms);
  phones.note("a", 0, "wrong clock");
  phones.note("b", 5, "right clock");
  phones.measured("a", 10);
  phones.note("b", 15, "right clock");
  CHECK(note_minutes(phones) == Minutes{0, 5, 15});
}

TEST_CASE("a measurement that arrives late corrects sessions, endings and what they settle") {
  Phones phones;
  const EntryRef mine = phones.session("a", 0, {"zone:floor"});
  phones.set_ahead("slow", -kYear_ms);
  const EntryRef theirs = phones.session("slow", 30, {"zone:floor", "zone:bench"});
  phones.done("slow", 40, "zone:floor", theirs);
  phones.emptied("slow", 45, "pail");
  ToldLedger told;
  told.receive(phones.sent());
  // A year too early by the phone's word, so it says nothing about today's floor.
  CHECK(in_short(sure(told.views().standing())) ==
        std::vector<std::string>{"zone:bench open", "zone:floor open"});
  CHECK(sure(told.views().done()).at(0).told.at_ms == at_minute(40) - kYear_ms);

  phones.measured("slow", 60);
  told.receive({phones.sent().back()});
  const auto duties = sure(told.views().standing());
  CHECK(in_short(duties) == std::vector<std::string>{"zone:bench open"});
  CHECK(duties[0].since_ms == at_minute(30));
  CHECK(sure(told.views().done()).at(0).told.at_ms == at_minute(40));
  CHECK(sure(told.views().bins()).at(0).told.at_ms == at_minute(45));
  CHECK(sure(told.views().sessions(at_minute(29))).size() == 1);
  const std::string dump = sure(told.views().dump());
  sure(told.views().rebuild());
  CHECK(sure(told.views().dump()) == dump);
}

TEST_CASE("a time left out is the entry's clock, and doubtful") {
  Phones phones;
  proto::Entry entry;
  entry.mutable_note()->set_text("when");
  entry.set_event_utc_ms(1);
  phones.tell("a", 3, entry);
  ToldLedger told(phones);
  const auto notes = sure(told.views().notes());
  REQUIRE(notes.size() == 1);
  CHECK(notes[0].told.doubtful);
  CHECK(notes[0].told.at_ms == at_minute(3));
}
