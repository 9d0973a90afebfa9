#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// Events are ms since 1970 in UTC; people see the time of the shop's own zone.
///
/// Rules come from the IANA time zone database: from the device's own copy (TZDIR, else
/// /usr/share/zoneinfo), or zone by zone as bytes where there is none, as in a browser. Nothing
/// here reads a clock. Texts are English and plain; every function takes any int64 and reads
/// instants outside 1970 to 9999 as the nearest one inside. Any thread may call any function.
namespace chipfall {

/// What is known of a zone's name.
enum class ZoneKnown {
  kYes,
  kNo,       ///< the database is here and has no such zone
  kNoRules,  ///< there is no database here: nobody can tell
};
ZoneKnown zone_known(const std::string& name);

/// Makes a zone's rules known: the bytes of a compiled zone file (TZif, RFC 8536). They replace
/// earlier ones and the device's own. False, and nothing changes, for anything else, for a name
/// that cannot be one, or over kMostZoneBytes.
bool give_zone_rules(const std::string& name, std::string bytes);
inline constexpr std::size_t kMostZoneBytes = 64 << 10;  ///< the largest of 2025b has 4 KiB

/// `Area/City` in the letters of the database, or `UTC`; whether or not there is such a zone.
bool looks_like_time_zone(std::string_view name);

/// A few names to guess from when one is misspelt; not all there are.
const std::vector<std::string>& common_zones();

/// One instant on the clock of a zone.
struct LocalTime {
  int year = 1970;
  int month = 1;  ///< 1 to 12
  int day = 1;
  int hour = 0;
  int minute = 0;
  int second = 0;
  int weekday = 4;              ///< 1 Monday to 7 Sunday
  std::int64_t day_number = 0;  ///< local days since 1970-01-01, for rhythms of days and weeks
  int offset_minutes = 0;       ///< east of UTC
  /// On the night that has 25 hours the clock shows the same HH:MM twice.
  enum class Twice { kNo, kFirst, kSecond } twice = Twice::kNo;
};

/// The clock of one shop. A value; copies share the rules.
class ShopClock {
 public:
  /// UTC where the zone is not known or has no rules here; `is_utc_instead` then says so.
  explicit ShopClock(const std::string& zone);

  const std::string& zone() const { return zone_; }
  bool is_utc_instead() const { return instead_; }

  LocalTime local(std::int64_t utc_ms) const;
  std::int64_t day_number(std::int64_t utc_ms) const { return local(utc_ms).day_number; }

  /// `21:05`; `first 01:30` and `second 01:30` where the clock shows it twice. With " UTC" where
  /// that stands in for the shop's zone.
  std::string time_text(std::int64_t utc_ms) const;

  /// `today`, `yesterday`, `tomorrow`, else `Tuesday 3 Nov`, with the year where it is not this
  /// year's. `now_ms` says what today is.
  std::string day_text(std::int64_t utc_ms, std::int64_t now_ms) const;

  /// `2026-11-03T21:05:00-06:00` (RFC 3339): the instant is certain whatever the night.
  std::string iso_text(std::int64_t utc_ms) const;

  /// The first instant of a local day `YYYY-MM-DD`, `later` days after it; nothing where the text
  /// is no day from 1970 to 9998.
  std::optional<std::int64_t> day_begin_ms(std::string_view day, int later = 0) const;

  /// The instant nearest to `near_ms` at which the clock shows this minute of the day (0 to 1439);
  /// the earlier of two that are equally near. Where the clock shows it twice, both are candidates.
  /// Where it jumps over it in spring, the moment of the jump stands in: at 02:30 of that night it
  /// is 03:00 already.
  std::int64_t nearest_ms(int minute_of_day, std::int64_t near_ms) const;

  /// The latest such instant that is not after `now_ms`.
  std::int64_t latest_ms(int minute_of_day, std::int64_t now_ms) const;

 private:
  struct Rules;
  std::vector<std::int64_t> instants_around(int minute_of_day, std::int64_t near_ms) const;

  std::string zone_;
  bool instead_ = false;
  std::shared_ptr<const Rules> rules_;
};

}  // namespace chipfall
