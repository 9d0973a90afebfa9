#include "sync/hub_settings.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <charconv>
#include <optional>

#include "sync/hub_store.h"
#include "sync/join_code.h"

namespace chipfall {

namespace {

std::string_view trimmed(std::string_view text) {
  constexpr std::string_view kBlank = " \t\r";
  const auto first = text.find_first_not_of(kBlank);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(kBlank) - first + 1);
}

std::optional<int> number_in(const std::string& text, int least, int most) {
  int value = 0;
  const auto [end, failure] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (failure != std::errc() || end != text.data() + text.size()) return std::nullopt;
  if (value < least || value > most) return std::nullopt;
  return value;
}

bool set_yes(bool& to, const std::string& text) {
  if (text != "yes" && text != "no") return false;
  to = text == "yes";
  return true;
}

std::vector<std::string> words_of(const std::string& text) {
  std::vector<std::string> words;
  for (std::string_view rest = text; !rest.empty();) {
    const auto comma = rest.find(',');
    const std::string_view word = trimmed(rest.substr(0, comma));
    if (!word.empty()) words.emplace_back(word);
    rest = comma == std::string_view::npos ? std::string_view() : rest.substr(comma + 1);
  }
  return words;
}

std::string yes_or_no(bool value) { return value ? "yes" : "no"; }

std::string known_names() {
  std::vector<std::string_view> names;
  for (const HubSetting& setting : hub_settings()) names.push_back(setting.name);
  return fmt::format("{}", fmt::join(names, ", "));
}

}  // namespace

const std::vector<HubSetting>& hub_settings() {
  using S = HubSettings;
  using T = const std::string&;
  static const std::vector<HubSetting> kTable = {
      {"bind", "Address to listen on", [](S& s, T text) { return !(s.bind = text).empty(); },
       [](const S& s) { return s.bind; }, "an address of this computer; 0.0.0.0 is all of them"},
      {"port", "Port for phones, health and metrics; 0 takes any free one",
       [](S& s, T text) {
         const auto port = number_in(text, 0, 65535);
         if (port) s.port = static_cast<std::uint16_t>(*port);
         return port.has_value();
       },
       [](const S& s) { return std::to_string(s.port); }, "a number from 0 to 65535"},
      {"address", "Name or address by which phones reach this hub, for join codes",
       [](S& s, T text) {
         s.address = text;
         return text.size() <= kMostHostBytes;
       },
       [](const S& s) { return s.address; }, "a host name or address of at most 100 letters"},
      {"certificate", "Certificate in PEM form instead of the hub's own",
       [](S& s, T text) {
         s.certificate = text;
         return true;
       },
       [](const S& s) { return s.certificate; }, "a file"},
      {"key", "Key of that certificate in PEM form",
       [](S& s, T text) {
         s.key = text;
         return true;
       },
       [](const S& s) { return s.key; }, "a file"},
      {"shop-name", "Name of the shop that is made where there is none yet",
       [](S& s, T text) {
         s.shop_name = text;
         return !text.empty() && text.size() <= kMostShopNameBytes;
       },
       [](const S& s) { return s.shop_name; }, "a name of at most 100 letters"},
      {"origins", "Web pages that may connect, as https://name, with commas between",
       [](S& s, T text) {
         s.origins = words_of(text);
         return std::all_of(s.origins.begin(), s.origins.end(), [](const std::string& origin) {
           return origin.starts_with("https://") || origin.starts_with("http://");
         });
       },
       [](const S& s) { return fmt::format("{}", fmt::join(s.origins, ", ")); },
       "https://name, with commas between"},
      {"page", "Folder of the page for phones, as preview/phone/build makes it; empty: no page",
       [](S& s, T text) {
         s.page = text;
         return true;
       },
       [](const S& s) { return s.page; }, "a folder"},
      {"connections", "At most so many phones at once",
       [](S& s, T text) {
         const auto most = number_in(text, 1, kMostConnections);
         if (most) s.connections = *most;
         return most.has_value();
       },
       [](const S& s) { return std::to_string(s.connections); }, "a number from 1 to 20000"},
      {"metrics-for-all", "Answer /metrics to other computers too",
       [](S& s, T text) { return set_yes(s.metrics_for_all, text); },
       [](const S& s) { return yes_or_no(s.metrics_for_all); }, "yes or no"},
      {"quick-check", "Read each shop's file for damage at the start",
       [](S& s, T text) { return set_yes(s.quick_check, text); },
       [](const S& s) { return yes_or_no(s.quick_check); }, "yes or no"},
  };
  return kTable;
}

namespace {

/// What is wrong with one line; empty: nothing.
std::string read_line(std::string_view line, HubSettings& settings) {
  const auto equals = line.find('=');
  if (equals == std::string_view::npos) return "a line is NAME = VALUE, or # and a comment";
  const std::string name(trimmed(line.substr(0, equals)));
  const std::string value(trimmed(line.substr(equals + 1)));
  for (const HubSetting& setting : hub_settings()) {
    if (name != setting.name) continue;
    if (setting.set(settings, value)) return {};
    return fmt::format("{}: \"{}\" will not do; give {}", name, value, setting.wants);
  }
  return fmt::format("\"{}\" is no setting; one of {}", name, known_names());
}

}  // namespace

Result<void> read_hub_settings(std::string_view text, const std::string& file,
                               HubSettings& settings) {
  Errors errors;
  if (text.size() > kMostSettingsBytes) {
    return tl::unexpected(Errors{{ErrorCode::kOutOfBounds,
                                  "is over 64 KiB, more than settings ever need",
                                  {file, 0, 0, ""}}});
  }
  for (int number = 1; !text.empty(); ++number) {
    const auto end = text.find('\n');
    const std::string_view line = trimmed(text.substr(0, end));
    text = end == std::string_view::npos ? std::string_view() : text.substr(end + 1);
    if (line.empty() || line.front() == '#') continue;
    std::string wrong = read_line(line, settings);
    if (!wrong.empty()) {
      errors.push_back({ErrorCode::kMistake, std::move(wrong), {file, number, 1, ""}});
    }
  }
  if (!errors.empty()) return tl::unexpected(std::move(errors));
  return {};
}

std::string hub_settings_text(const HubSettings& settings) {
  std::string text;
  for (const HubSetting& setting : hub_settings()) {
    text += fmt::format("# {}\n{} = {}\n", setting.help, setting.name, setting.get(settings));
  }
  return text;
}

}  // namespace chipfall
