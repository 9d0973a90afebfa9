#include "core/duty/say.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/shop/units.h"

namespace chipfall {
namespace {

/// Two significant digits below 10, whole numbers above: nobody weighs sweepings to the milligram.
std::string brief(double value) {
  if (value >= 9.95) return fmt::format("{:.0f}", value);
  if (value >= 0.05) return fmt::format("{:.1f}", value);
  return value > 0 ? "<0.1" : "0";
}

}  // namespace

std::string say_mass(double grams, Units units) {
  if (units == Units::kMetric) {
    return grams >= 995 ? brief(grams / 1000) + " kg" : brief(grams) + " g";
  }
  const double pounds = grams / 1000 / kKilogramsPerPound;
  return pounds >= 1 ? brief(pounds) + " lb" : brief(16 * pounds) + " oz";
}

std::string say_length(double metres, Units units) {
  if (units == Units::kMetric) return brief(metres) + " m";
  const long inches = std::lround(metres / kMetresPerInch);
  if (inches < 12) return fmt::format("{} in", inches);
  if (inches % 12 == 0) return fmt::format("{} ft", inches / 12);
  return fmt::format("{} ft {} in", inches / 12, inches % 12);
}

std::string say_area(double square_metres, Units units) {
  if (units == Units::kMetric) return brief(square_metres) + " m²";
  return brief(square_metres / kSquareMetresPerSquareFoot) + " ft²";
}

std::string say_volume(double cubic_metres, Units units) {
  const double litres = 1000 * cubic_metres;
  if (units == Units::kMetric) return brief(litres) + " L";
  return brief(litres / kLitresPerUsGallon) + " gal";
}

std::string say_load(double g_per_m2, Units units) {
  if (units == Units::kMetric) return brief(g_per_m2) + " g/m²";
  return brief(g_per_m2 / kGramsPerM2PerLbPer1000Ft2) + " lb/1000 ft²";
}

std::string say_depth(double mm, Units units) {
  if (units == Units::kMetric) return fmt::format("{:.2g} mm", mm);
  return fmt::format("{:.2g} in", mm / 1000 / kMetresPerInch);
}

std::string say_speed(double m_per_s, Units units) {
  if (units == Units::kMetric) return brief(m_per_s) + " m/s";
  return fmt::format("{:.0f} fpm", std::round(m_per_s * 60 / kMetresPerFoot / 10) * 10);
}

std::string say_minutes(double minutes) {
  return fmt::format("{:.0f} min", std::ceil(minutes - 1e-9));
}

std::string say_half_minutes(double minutes) {
  const double halves = std::max(1.0, std::round(2 * minutes));
  const double whole = std::floor(halves / 2);
  if (whole == 0) return "½ min";
  return fmt::format("{:.0f}{} min", whole, halves > 2 * whole ? "½" : "");
}

std::string say_age(double minutes) {
  constexpr double kHour = 60;
  constexpr double kDay = 24 * kHour;
  constexpr double kWeek = 7 * kDay;
  const auto plural = [](double count, const char* one) {
    return fmt::format("{:.0f} {}{} ago", count, one, count == 1 ? "" : "s");
  };
  if (!(minutes >= 2)) return "just now";
  if (minutes < kHour - 0.5) return fmt::format("{:.0f} min ago", minutes);
  if (minutes < 1.5 * kDay) return fmt::format("{:.0f} h ago", std::round(minutes / kHour));
  if (minutes < 3 * kWeek) return plural(std::round(minutes / kDay), "day");
  return plural(std::round(minutes / kWeek), "week");
}

std::string say_percent(double share) { return fmt::format("{:.0f} %", 100 * share); }

std::string fill_in(std::string text, const std::string& key, const std::string& value) {
  const std::string mark = "{" + key + "}";
  for (size_t at = text.find(mark); at != std::string::npos;
       at = text.find(mark, at + value.size())) {
    text.replace(at, mark.size(), value);
  }
  return text;
}

std::vector<std::string> sentences(const std::string& text) {
  std::vector<std::string> out;
  for (size_t from = 0; from < text.size();) {
    size_t to = text.find(". ", from);
    to = to == std::string::npos ? text.size() : to + 1;
    out.push_back(text.substr(from, to - from));
    from = to + 1;
  }
  return out;
}

void add_sentences(const std::string& more, std::string& text) {
  for (const std::string& sentence : sentences(more)) {
    if (text.find(sentence) == std::string::npos) text += (text.empty() ? "" : " ") + sentence;
  }
}

std::string join(const std::vector<std::string>& items) {
  std::string out;
  for (size_t i = 0; i < items.size(); ++i) {
    if (i > 0) out += i + 1 == items.size() ? " and " : ", ";
    out += items[i];
  }
  return out;
}

}  // namespace chipfall
