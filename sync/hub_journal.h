#pragma once

#include <functional>
#include <initializer_list>
#include <map>
#include <mutex>
#include <string>
#include <string_view>

#include "sync/hub_counts.h"

/// The hub's log for people and programs: one line for each event, `key=value` with spaces between
/// (logfmt). No line names a member or what a device is called; devices and addresses are not
/// named either.
namespace chipfall {

/// Of one event in one period; what is more is counted and told by the next line of that event.
constexpr int kMostLinesOfEvent = 20;
constexpr std::int64_t kJournalPeriod_ms = 60'000;

class HubJournal {
 public:
  using Field = std::pair<std::string_view, std::string>;

  /// `write` gets whole lines with their newline; any thread may call it, one at a time.
  HubJournal(std::function<void(const std::string&)> write, std::function<std::int64_t()> utc_ms)
      : write_(std::move(write)), utc_ms_(std::move(utc_ms)) {}

  void info(std::string_view event, std::initializer_list<Field> fields = {}) {
    line("info", event, fields);
  }
  void warning(std::string_view event, std::initializer_list<Field> fields = {}) {
    line("warning", event, fields);
  }
  void count_dropped(Count* dropped) { dropped_ = dropped; }

 private:
  struct Heard {
    std::int64_t period = 0;
    int lines = 0;
    std::int64_t left_out = 0;
  };
  void line(std::string_view level, std::string_view event, std::initializer_list<Field> fields);

  std::function<void(const std::string&)> write_;
  std::function<std::int64_t()> utc_ms_;
  std::mutex lock_;
  std::map<std::string, Heard, std::less<>> heard_;  // events are the program's own few words
  Count* dropped_ = nullptr;
};

}  // namespace chipfall
