#include "sync/hub_journal.h"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <ctime>

namespace chipfall {

namespace {

/// Quoted where a reader could be misled: blanks, quotes, equals signs, control characters.
std::string value_text(const std::string& value) {
  const auto plain = [](char letter) {
    return letter > ' ' && letter != '"' && letter != '=' && letter != '\\' && letter != '\x7f';
  };
  bool all_plain = !value.empty();
  for (const char letter : value) all_plain = all_plain && plain(letter);
  if (all_plain) return value;
  std::string quoted = "\"";
  for (const char letter : value) {
    if (letter == '"' || letter == '\\') quoted += '\\';
    const bool control = static_cast<unsigned char>(letter) < ' ' || letter == '\x7f';
    quoted += control ? ' ' : letter;
  }
  return quoted += '"';
}

}  // namespace

void HubJournal::line(std::string_view level, std::string_view event,
                      std::initializer_list<Field> fields) {
  const std::int64_t now = utc_ms_();
  const std::lock_guard lock(lock_);
  Heard& heard = heard_[std::string(event)];
  if (now / kJournalPeriod_ms != heard.period) {
    heard.period = now / kJournalPeriod_ms;
    heard.lines = 0;
  }
  if (++heard.lines > kMostLinesOfEvent) {
    ++heard.left_out;
    if (dropped_ != nullptr) ++*dropped_;
    return;
  }
  const auto seconds = static_cast<std::time_t>(now / 1000);
  std::string text = fmt::format("time={:%Y-%m-%dT%H:%M:%S}.{:03}Z level={} event={}",
                                 fmt::gmtime(seconds), now % 1000, level, event);
  for (const auto& [key, value] : fields) text += fmt::format(" {}={}", key, value_text(value));
  if (heard.left_out > 0) text += fmt::format(" left_out={}", std::exchange(heard.left_out, 0));
  write_(text += '\n');
}

}  // namespace chipfall
