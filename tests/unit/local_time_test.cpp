#include "core/shop/local_time.h"

#include <doctest/doctest.h>

#include <fstream>
#include <iterator>
#include <limits>

using namespace chipfall;

namespace {

constexpr std::int64_t kMinute_ms = 60'000;
constexpr std::int64_t kHour_ms = 60 * kMinute_ms;
constexpr std::int64_t kDay_ms = 24 * kHour_ms;

/// In Chicago: 8 March 2026 at 2:00 the clock jumps to 3:00; 1 November at 2:00 back to 1:00.
constexpr std::int64_t kSpring_ms = 1'772'956'800'000;  // 2026-03-08T08:00Z
constexpr std::int64_t kAutumn_ms = 1'793'516'400'000;  // 2026-11-01T07:00Z

int minute_of(int hour, int minute) { return hour * 60 + minute; }

std::string contents(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

}  // namespace

TEST_CASE("an evening is told by the shop's clock, not by UTC's") {
  const ShopClock clock("America/Chicago");
  const std::int64_t at = 1'793'762'700'000;  // 2026-11-04T03:25Z
  CHECK(clock.time_text(at) == "21:25");
  CHECK(clock.iso_text(at) == "2026-11-03T21:25:00-06:00");
  CHECK(clock.local(at).weekday == 2);
  CHECK(clock.day_text(at, at + 2 * kHour_ms) == "today");
  CHECK(clock.day_text(at, at + 3 * kHour_ms) == "yesterday");
  CHECK(clock.day_text(at, at - kDay_ms) == "tomorrow");
  CHECK(clock.day_text(at, at + 2 * kDay_ms) == "Tuesday 3 Nov");
  CHECK(clock.day_text(at, at + 100 * kDay_ms) == "Tuesday 3 Nov 2026");
  CHECK(ShopClock("Asia/Kolkata").iso_text(at) == "2026-11-04T08:55:00+05:30");
}

TEST_CASE("the hour that comes twice is told apart, and both of it are found again") {
  const ShopClock clock("America/Chicago");
  const std::int64_t first = kAutumn_ms - 30 * kMinute_ms;
  const std::int64_t second = kAutumn_ms + 30 * kMinute_ms;
  CHECK(clock.time_text(first) == "first 01:30");
  CHECK(clock.time_text(second) == "second 01:30");
  CHECK(clock.iso_text(first) == "2026-11-01T01:30:00-05:00");
  CHECK(clock.iso_text(second) == "2026-11-01T01:30:00-06:00");
  CHECK(clock.nearest_ms(minute_of(1, 30), first + 5 * kMinute_ms) == first);
  CHECK(clock.nearest_ms(minute_of(1, 30), second - 5 * kMinute_ms) == second);
  CHECK(clock.nearest_ms(minute_of(1, 30), kAutumn_ms) == first);  // as near: the earlier
  CHECK(clock.latest_ms(minute_of(1, 30), second - 1) == first);
  CHECK(clock.latest_ms(minute_of(1, 30), second) == second);
  // The day has 25 hours, and its neighbours are a day away by number.
  CHECK(clock.time_text(kAutumn_ms + kHour_ms) == "02:00");
  CHECK(clock.day_number(kAutumn_ms - 2 * kHour_ms) ==
        clock.day_number(kAutumn_ms + 22 * kHour_ms));
}

TEST_CASE("a time that the spring night leaves out means the moment of the jump") {
  const ShopClock clock("America/Chicago");
  CHECK(clock.nearest_ms(minute_of(2, 30), kSpring_ms) == kSpring_ms);
  CHECK(clock.nearest_ms(minute_of(2, 0), kSpring_ms + kHour_ms) == kSpring_ms);
  CHECK(clock.time_text(kSpring_ms) == "03:00");
  // From the noon before, the 2:30 that there was is nearer.
  CHECK(clock.nearest_ms(minute_of(2, 30), kSpring_ms - 14 * kHour_ms) ==
        kSpring_ms - kDay_ms + 30 * kMinute_ms);
  CHECK(clock.latest_ms(minute_of(2, 30), kSpring_ms + 5 * kHour_ms) == kSpring_ms);
}

TEST_CASE("every minute of a year goes there and back") {
  for (const char* zone : {"America/Chicago", "Europe/Oslo", "Australia/Lord_Howe", "UTC"}) {
    CAPTURE(zone);
    const ShopClock clock(zone);
    for (std::int64_t at = 1'767'225'600'000; at < 1'798'761'600'000; at += 37 * kMinute_ms) {
      const LocalTime local = clock.local(at);
      REQUIRE(clock.nearest_ms(minute_of(local.hour, local.minute), at) == at);
      REQUIRE(clock.latest_ms(minute_of(local.hour, local.minute), at) == at);
    }
  }
}

TEST_CASE("the nearest time lies within half a day, the latest within a day and the missing hour") {
  const ShopClock clock("Europe/Oslo");
  for (std::int64_t at = 1'774'000'000'000; at < 1'775'500'000'000; at += 7 * kHour_ms) {
    for (int minute = 0; minute < 1440; minute += 30) {
      const std::int64_t nearest = clock.nearest_ms(minute, at);
      REQUIRE(std::abs(nearest - at) <= 13 * kHour_ms);
      const std::int64_t latest = clock.latest_ms(minute, at);
      REQUIRE(latest <= at);
      REQUIRE(at - latest <= 25 * kHour_ms);
    }
  }
}

TEST_CASE("a day begins at its first instant, and a text that is no day begins nowhere") {
  const ShopClock clock("America/Chicago");
  CHECK(clock.day_begin_ms("2026-11-01") == kAutumn_ms - 2 * kHour_ms);
  CHECK(clock.day_begin_ms("2026-11-01", 1) == kAutumn_ms + 23 * kHour_ms);
  CHECK(clock.day_begin_ms("2028-02-29").has_value());
  for (const char* no : {"", "2026-02-29", "2026-13-01", "2026-1-1", "20261101", "2026-11-0x",
                         "1969-12-31", "9999-01-01", "2026-00-10", "2026-11-31"}) {
    CAPTURE(no);
    CHECK_FALSE(clock.day_begin_ms(no).has_value());
  }
}

TEST_CASE("any instant has a time, however far off the clock that claims it") {
  const ShopClock clock("America/Chicago");
  using Limits = std::numeric_limits<std::int64_t>;
  CHECK(clock.local(Limits::min()).year == 1969);  // 1970 in UTC
  CHECK(clock.local(Limits::max()).year == 9999);
  CHECK(clock.nearest_ms(minute_of(12, 0), Limits::max()) > 0);
  CHECK(clock.nearest_ms(99999, 0) >= -kDay_ms);
  CHECK(!clock.day_text(Limits::min(), Limits::max()).empty());
}

TEST_CASE("an unknown zone falls back to UTC and says so") {
  const ShopClock clock("America/Chicgo");
  CHECK(clock.is_utc_instead());
  CHECK(clock.time_text(3 * kHour_ms) == "03:00 UTC");
  CHECK(zone_known("America/Chicgo") == ZoneKnown::kNo);
  CHECK(zone_known("right/America/Chicago") == ZoneKnown::kNo);  // counts leap seconds
  CHECK(zone_known("../../etc/passwd") == ZoneKnown::kNo);
  CHECK_FALSE(ShopClock("UTC").is_utc_instead());
}

TEST_CASE("rules that come as bytes serve as well as the system's") {
  const std::string rules = contents("/usr/share/zoneinfo/Europe/Oslo");
  REQUIRE(!rules.empty());
  CHECK_FALSE(give_zone_rules("Test/Otter_Bend", "TZif, but cut short"));
  CHECK(zone_known("Test/Otter_Bend") == ZoneKnown::kNo);
  CHECK(give_zone_rules("Test/Otter_Bend", rules));
  CHECK(give_zone_rules("Test/Otter_Bend", rules));  // the same again
  CHECK(ShopClock("Test/Otter_Bend").time_text(1'780'000'000'000) ==
        ShopClock("Europe/Oslo").time_text(1'780'000'000'000));
  // Newer bytes replace older ones.
  const ShopClock before("Test/Otter_Bend");
  CHECK(give_zone_rules("Test/Otter_Bend", contents("/usr/share/zoneinfo/Asia/Tokyo")));
  CHECK(ShopClock("Test/Otter_Bend").local(0).offset_minutes == 540);
  CHECK(before.local(0).offset_minutes == 60);
  CHECK_FALSE(give_zone_rules("no zone", rules));
  CHECK_FALSE(give_zone_rules("Test/Otter_Bend", std::string(kMostZoneBytes + 1, 'x')));
}
