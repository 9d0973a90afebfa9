#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "core/shop/local_time.h"

/// Transitions by the IANA time zone database, release 2025b (files northamerica, europe,
/// australasia and asia; rules US, EU, AN and LH), worked out by hand from its rules. The rules
/// themselves come from the copy that the system has.

using namespace chipfall;

namespace {

/// Days since 1970 of a date of the proleptic Gregorian calendar, by counting; shares no code with
/// what is tested.
std::int64_t utc_ms(int year, int month, int day, int hour, int minute) {
  const int lengths[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  const auto leap = [](int y) { return (y % 4 == 0 && y % 100 != 0) || y % 400 == 0; };
  std::int64_t days = day - 1;
  for (int y = 1970; y < year; ++y) days += leap(y) ? 366 : 365;
  for (int m = 1; m < month; ++m) days += lengths[m - 1] + (m == 2 && leap(year) ? 1 : 0);
  return ((days * 24 + hour) * 60 + minute) * 60'000;
}

struct Change {
  const char* zone;
  std::int64_t at_ms;  ///< the first ms of the new offset
  int before_minutes;
  int after_minutes;
  const char* last;   ///< what the clock shows a minute before
  const char* first;  ///< and then
};

/// Rule US: from the second Sunday of March at 2:00 to the first of November at 2:00.
/// Rule EU: from the last Sunday of March to the last of October, both at 01:00 UTC.
/// Rule AN: from the first Sunday of October to the first of April, both at 2:00 standard time.
/// Rule LH: the same days, half an hour, at 2:00 on the wall.
const std::vector<Change> kChanges{
    {"America/Chicago", utc_ms(2026, 3, 8, 8, 0), -360, -300, "01:59", "03:00"},
    {"America/Chicago", utc_ms(2026, 11, 1, 7, 0), -300, -360, "first 01:59", "second 01:00"},
    {"America/Chicago", utc_ms(2028, 3, 12, 8, 0), -360, -300, "01:59", "03:00"},
    {"America/Chicago", utc_ms(2035, 11, 4, 7, 0), -300, -360, "first 01:59", "second 01:00"},
    {"Europe/Oslo", utc_ms(2026, 3, 29, 1, 0), 60, 120, "01:59", "03:00"},
    {"Europe/Oslo", utc_ms(2026, 10, 25, 1, 0), 120, 60, "first 02:59", "second 02:00"},
    {"Europe/London", utc_ms(2027, 3, 28, 1, 0), 0, 60, "00:59", "02:00"},
    {"Europe/London", utc_ms(2027, 10, 31, 1, 0), 60, 0, "first 01:59", "second 01:00"},
    {"Australia/Sydney", utc_ms(2026, 4, 4, 16, 0), 660, 600, "first 02:59", "second 02:00"},
    {"Australia/Sydney", utc_ms(2026, 10, 3, 16, 0), 600, 660, "01:59", "03:00"},
    {"Australia/Lord_Howe", utc_ms(2026, 4, 4, 15, 0), 660, 630, "first 01:59", "second 01:30"},
    {"Australia/Lord_Howe", utc_ms(2026, 10, 3, 15, 30), 630, 660, "01:59", "02:30"},
};

}  // namespace

TEST_CASE("clocks change when the time zone database says so, north and south") {
  for (const Change& change : kChanges) {
    CAPTURE(change.zone);
    CAPTURE(change.at_ms);
    REQUIRE(zone_known(change.zone) == ZoneKnown::kYes);
    const ShopClock clock(change.zone);
    CHECK(clock.local(change.at_ms - 1).offset_minutes == change.before_minutes);
    CHECK(clock.local(change.at_ms).offset_minutes == change.after_minutes);
    CHECK(clock.time_text(change.at_ms - 60'000) == change.last);
    CHECK(clock.time_text(change.at_ms) == change.first);
  }
}

TEST_CASE("zones without summer time keep their offset all year") {
  struct Steady {
    const char* zone;
    int offset_minutes;
  };
  for (const Steady& steady : {Steady{"Asia/Kolkata", 330}, Steady{"America/Phoenix", -420},
                               Steady{"Australia/Brisbane", 600}, Steady{"UTC", 0}}) {
    CAPTURE(steady.zone);
    const ShopClock clock(steady.zone);
    for (int month = 1; month <= 12; ++month) {
      CHECK(clock.local(utc_ms(2026, month, 15, 12, 0)).offset_minutes == steady.offset_minutes);
    }
  }
}

TEST_CASE("days, weekdays and leap days are those of the calendar") {
  const ShopClock clock("America/Chicago");
  // 29 February 2028 was found to be a Tuesday by counting from Thursday, 1 January 1970.
  const std::int64_t noon = utc_ms(2028, 2, 29, 18, 0);
  const LocalTime at = clock.local(noon);
  CHECK(at.month == 2);
  CHECK(at.day == 29);
  CHECK(at.weekday == (utc_ms(2028, 2, 29, 0, 0) / 86'400'000 + 3) % 7 + 1);
  CHECK(at.day_number == utc_ms(2028, 2, 29, 0, 0) / 86'400'000);
  CHECK(clock.day_number(noon + 86'400'000) == at.day_number + 1);
  CHECK(clock.local(noon + 86'400'000).month == 3);
  // 2100 is no leap year.
  CHECK(clock.local(utc_ms(2100, 2, 28, 18, 0) + 86'400'000).month == 3);
}
