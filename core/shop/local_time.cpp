#include "core/shop/local_time.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <cstdlib>
#include <cstring>
#include <functional>
#include <map>
#include <mutex>

#include <cctz/civil_time.h>
#include <cctz/time_zone.h>
#include <cctz/zone_info_source.h>
#include <fmt/format.h>

namespace chipfall {
namespace {

constexpr std::int64_t kEarliest_ms = 0;
constexpr std::int64_t kLatest_ms = 253402300799999;  ///< the last ms of the year 9999
constexpr std::size_t kLongestZone = 64;
constexpr int kMinutesADay = 1440;

using Seconds = cctz::time_point<cctz::seconds>;
using Source = std::unique_ptr<cctz::ZoneInfoSource>;

/// What `give_zone_rules` was given. cctz keeps every zone that it ever loaded by name, so each
/// version of a zone's bytes gets a name of its own: `Europe/Oslo#2`.
struct GivenRules {
  std::mutex mutex;
  std::map<std::string, std::string> bytes;
  std::map<std::string, int> version;
};

GivenRules& given() {
  static GivenRules rules;
  return rules;
}

std::string versioned(const std::string& name, int version) {
  return fmt::format("{}#{}", name, version);
}

/// Zone rules that lie in memory, read as a file.
class BytesSource : public cctz::ZoneInfoSource {
 public:
  explicit BytesSource(std::string bytes) : bytes_(std::move(bytes)) {}

  std::size_t Read(void* to, std::size_t size) override {
    const std::size_t n = std::min(size, bytes_.size() - at_);
    std::memcpy(to, bytes_.data() + at_, n);
    at_ += n;
    return n;
  }
  int Skip(std::size_t offset) override {
    if (offset > bytes_.size() - at_) return -1;
    at_ += offset;
    return 0;
  }

 private:
  std::string bytes_;
  std::size_t at_ = 0;
};

Source find_rules(const std::string& name,
                  const std::function<Source(const std::string&)>& from_database) {
  if (name.find('#') == std::string::npos) return from_database(name);
  GivenRules& rules = given();
  const std::lock_guard lock(rules.mutex);
  const auto it = rules.bytes.find(name);
  return it == rules.bytes.end() ? nullptr : std::make_unique<BytesSource>(it->second);
}

/// cctz asks this variable, which a program may set, for every zone's rules.
void use_given_rules() {
  static const bool set = [] {
    cctz_extension::zone_info_source_factory = find_rules;
    return true;
  }();
  static_cast<void>(set);
}

/// The rules by the name that the shop uses: those given, else the device's own.
std::optional<cctz::time_zone> load(const std::string& name) {
  if (name == "UTC") return cctz::utc_time_zone();
  // "right/..." counts leap seconds, which no clock here does.
  if (!looks_like_time_zone(name) || name.starts_with("right/")) return std::nullopt;
  use_given_rules();
  std::string key = name;
  {
    GivenRules& rules = given();
    const std::lock_guard lock(rules.mutex);
    const auto it = rules.version.find(name);
    if (it != rules.version.end()) key = versioned(name, it->second);
  }
  cctz::time_zone zone;
  if (!cctz::load_time_zone(key, &zone)) return std::nullopt;
  return zone;
}

/// The device's own: rules that were given for one zone say nothing about the others.
bool has_database() {
  cctz::time_zone ignored;
  return cctz::load_time_zone("America/Chicago", &ignored) ||
         cctz::load_time_zone("Europe/London", &ignored);
}

Seconds instant(std::int64_t utc_ms) {
  const std::int64_t ms = std::clamp(utc_ms, kEarliest_ms, kLatest_ms);
  return Seconds(cctz::seconds(ms / 1000));
}

std::int64_t ms_of(Seconds at) { return at.time_since_epoch().count() * 1000; }

std::string_view weekday_name(int weekday) {
  constexpr std::array<std::string_view, 7> kNames{"Monday", "Tuesday",  "Wednesday", "Thursday",
                                                   "Friday", "Saturday", "Sunday"};
  return kNames[static_cast<std::size_t>(weekday - 1)];
}

std::string_view month_name(int month) {
  constexpr std::array<std::string_view, 12> kNames{"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                                    "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  return kNames[static_cast<std::size_t>(month - 1)];
}

}  // namespace

bool looks_like_time_zone(std::string_view name) {
  if (name == "UTC") return true;
  const auto fits = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' ||
           c == '+' || c == '-' || c == '/';
  };
  const std::size_t slash = name.find('/');
  return name.size() <= kLongestZone && slash != std::string_view::npos && slash > 0 &&
         name.back() != '/' && name.find("//") == std::string_view::npos &&
         std::ranges::all_of(name, fits);
}

ZoneKnown zone_known(const std::string& name) {
  if (load(name)) return ZoneKnown::kYes;
  return has_database() ? ZoneKnown::kNo : ZoneKnown::kNoRules;
}

bool give_zone_rules(const std::string& name, std::string bytes) {
  if (!looks_like_time_zone(name) || bytes.size() > kMostZoneBytes) return false;
  use_given_rules();
  GivenRules& rules = given();
  std::string key;
  int version = 1;
  {
    const std::lock_guard lock(rules.mutex);
    const auto it = rules.version.find(name);
    if (it != rules.version.end()) {
      if (rules.bytes[versioned(name, it->second)] == bytes) return true;
      version = it->second + 1;
    }
    // A version that turns out unreadable is cctz's for good, so its number is not used again.
    while (rules.bytes.contains(versioned(name, version))) ++version;
    key = versioned(name, version);
    rules.bytes[key] = std::move(bytes);
  }
  cctz::time_zone zone;
  if (!cctz::load_time_zone(key, &zone)) return false;
  const std::lock_guard lock(rules.mutex);
  rules.version[name] = version;
  return true;
}

const std::vector<std::string>& common_zones() {
  static const std::vector<std::string> zones{"Africa/Cairo",        "Africa/Johannesburg",
                                              "Africa/Lagos",        "Africa/Nairobi",
                                              "America/Anchorage",   "America/Bogota",
                                              "America/Chicago",     "America/Denver",
                                              "America/Halifax",     "America/Lima",
                                              "America/Los_Angeles", "America/Mexico_City",
                                              "America/New_York",    "America/Phoenix",
                                              "America/Santiago",    "America/Sao_Paulo",
                                              "America/St_Johns",    "America/Toronto",
                                              "America/Vancouver",   "America/Winnipeg",
                                              "Asia/Bangkok",        "Asia/Dubai",
                                              "Asia/Hong_Kong",      "Asia/Jakarta",
                                              "Asia/Jerusalem",      "Asia/Kolkata",
                                              "Asia/Manila",         "Asia/Seoul",
                                              "Asia/Shanghai",       "Asia/Singapore",
                                              "Asia/Tokyo",          "Australia/Adelaide",
                                              "Australia/Brisbane",  "Australia/Melbourne",
                                              "Australia/Perth",     "Australia/Sydney",
                                              "Europe/Amsterdam",    "Europe/Athens",
                                              "Europe/Berlin",       "Europe/Brussels",
                                              "Europe/Copenhagen",   "Europe/Dublin",
                                              "Europe/Helsinki",     "Europe/Istanbul",
                                              "Europe/Lisbon",       "Europe/London",
                                              "Europe/Madrid",       "Europe/Oslo",
                                              "Europe/Paris",        "Europe/Prague",
                                              "Europe/Rome",         "Europe/Stockholm",
                                              "Europe/Vienna",       "Europe/Warsaw",
                                              "Europe/Zurich",       "Pacific/Auckland",
                                              "Pacific/Honolulu",    "UTC"};
  return zones;
}

struct ShopClock::Rules {
  cctz::time_zone zone;
};

ShopClock::ShopClock(const std::string& zone) : zone_(zone) {
  std::optional<cctz::time_zone> found = load(zone);
  instead_ = !found.has_value();
  rules_ = std::make_shared<const Rules>(Rules{found.value_or(cctz::utc_time_zone())});
}

LocalTime ShopClock::local(std::int64_t utc_ms) const {
  const Seconds at = instant(utc_ms);
  const auto seen = rules_->zone.lookup(at);
  LocalTime out;
  out.year = static_cast<int>(seen.cs.year());
  out.month = seen.cs.month();
  out.day = seen.cs.day();
  out.hour = seen.cs.hour();
  out.minute = seen.cs.minute();
  out.second = seen.cs.second();
  const cctz::civil_day today(seen.cs);
  out.weekday = static_cast<int>(cctz::get_weekday(today)) + 1;  // cctz begins with Monday, 0
  out.day_number = today - cctz::civil_day(1970, 1, 1);
  out.offset_minutes = seen.offset / 60;
  const auto back = rules_->zone.lookup(seen.cs);
  if (back.kind == cctz::time_zone::civil_lookup::REPEATED) {
    out.twice = at < back.trans ? LocalTime::Twice::kFirst : LocalTime::Twice::kSecond;
  }
  return out;
}

std::string ShopClock::time_text(std::int64_t utc_ms) const {
  const LocalTime at = local(utc_ms);
  std::string text = at.twice == LocalTime::Twice::kFirst    ? "first "
                     : at.twice == LocalTime::Twice::kSecond ? "second "
                                                             : "";
  fmt::format_to(std::back_inserter(text), "{:02}:{:02}", at.hour, at.minute);
  if (instead_) text += " UTC";
  return text;
}

std::string ShopClock::day_text(std::int64_t utc_ms, std::int64_t now_ms) const {
  const LocalTime at = local(utc_ms);
  const LocalTime now = local(now_ms);
  switch (at.day_number - now.day_number) {
    case 0:
      return "today";
    case -1:
      return "yesterday";
    case 1:
      return "tomorrow";
    default:
      break;
  }
  std::string text =
      fmt::format("{} {} {}", weekday_name(at.weekday), at.day, month_name(at.month));
  if (at.year != now.year) fmt::format_to(std::back_inserter(text), " {}", at.year);
  return text;
}

std::string ShopClock::iso_text(std::int64_t utc_ms) const {
  const LocalTime at = local(utc_ms);
  const int offset = std::abs(at.offset_minutes);
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}{}{:02}:{:02}", at.year, at.month, at.day,
                     at.hour, at.minute, at.second, at.offset_minutes < 0 ? '-' : '+', offset / 60,
                     offset % 60);
}

std::optional<std::int64_t> ShopClock::day_begin_ms(std::string_view day, int later) const {
  constexpr std::string_view kForm = "dddd-dd-dd";
  const auto digit = [](char c) { return c >= '0' && c <= '9'; };
  if (day.size() != kForm.size()) return std::nullopt;
  for (std::size_t i = 0; i < kForm.size(); ++i) {
    if (kForm[i] == 'd' ? !digit(day[i]) : day[i] != '-') return std::nullopt;
  }
  const auto number = [&](std::size_t from, std::size_t size) {
    int value = 0;
    for (const char c : day.substr(from, size)) value = value * 10 + (c - '0');
    return value;
  };
  const int year = number(0, 4), month = number(5, 2), day_of_month = number(8, 2);
  const cctz::civil_day that(year, month, day_of_month);
  // cctz carries 30 February into March; a person meant something else.
  if (year < 1970 || year > 9998 || that.month() != month || that.day() != day_of_month) {
    return std::nullopt;
  }
  const cctz::civil_day first = that + later;
  const auto found = rules_->zone.lookup(cctz::civil_second(first));
  return ms_of(found.kind == cctz::time_zone::civil_lookup::SKIPPED ? found.trans : found.pre);
}

std::vector<std::int64_t> ShopClock::instants_around(int minute_of_day,
                                                     std::int64_t near_ms) const {
  const int minute = std::clamp(minute_of_day, 0, kMinutesADay - 1);
  const cctz::civil_day today(rules_->zone.lookup(instant(near_ms)).cs);
  std::vector<std::int64_t> all;
  // Two days before: where the clock jumped over it yesterday and today it is still to come.
  for (int day = -2; day <= 1; ++day) {
    const cctz::civil_day that = today + day;
    const cctz::civil_second shown(that.year(), that.month(), that.day(), minute / 60, minute % 60,
                                   0);
    const auto found = rules_->zone.lookup(shown);
    if (found.kind == cctz::time_zone::civil_lookup::SKIPPED) {
      all.push_back(ms_of(found.trans));
    } else {
      all.push_back(ms_of(found.pre));
      if (found.kind == cctz::time_zone::civil_lookup::REPEATED) all.push_back(ms_of(found.post));
    }
  }
  return all;
}

std::int64_t ShopClock::nearest_ms(int minute_of_day, std::int64_t near_ms) const {
  const std::int64_t near = std::clamp(near_ms, kEarliest_ms, kLatest_ms);
  return std::ranges::min(instants_around(minute_of_day, near), {},
                          [&](std::int64_t at) { return std::abs(at - near); });
}

std::int64_t ShopClock::latest_ms(int minute_of_day, std::int64_t now_ms) const {
  const std::int64_t now = std::clamp(now_ms, kEarliest_ms, kLatest_ms);
  std::int64_t latest = kEarliest_ms;
  for (const std::int64_t at : instants_around(minute_of_day, now)) {
    if (at <= now) latest = std::max(latest, at);
  }
  return latest;
}

}  // namespace chipfall
