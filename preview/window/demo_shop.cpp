#include "preview/window/demo_shop.h"

#include <algorithm>
#include <array>
#include <memory>

#include "preview/terminal/door_client.h"
#include "preview/terminal/files.h"

namespace chipfall::window {
namespace {

constexpr std::int64_t kDay_ms = 86'400'000;
constexpr std::int64_t kMinute_ms = 60'000;
constexpr int kTimedDuties = 9;  ///< of each session, with the minutes they took

struct PastSession {
  int days_ago;
  const char* file;
  double slower;  ///< what its duties took, over what was promised
};
constexpr std::array<PastSession, 9> kSessions{{{19, "planing-boards", 1.25},
                                                {17, "sanding-mdf", 1.1},
                                                {14, "table-evening", 1.3},
                                                {12, "lathe-afternoon", 0.95},
                                                {9, "cedar-boxes", 1.15},
                                                {7, "planing-boards", 1.05},
                                                {5, "sanding-mdf", 1.1},
                                                {3, "drilling-visit", 0.9},
                                                {1, "cedar-boxes", 1.0}}};

class DemoWriter {
 public:
  DemoWriter(DoorClient door, std::string checklists, std::shared_ptr<std::int64_t> clock_ms)
      : door_(std::move(door)),
        checklists_(std::move(checklists)),
        clock_ms_(std::move(clock_ms)) {}

  Result<void> write(std::int64_t now_ms, bool with_past) {
    at(now_ms - 21 * kDay_ms);
    load_sheet();
    for (const PastSession& past : kSessions) {
      if (!with_past) break;
      const std::int64_t then = now_ms - past.days_ago * kDay_ms;
      emptyings_before(past.days_ago, then);
      at(then);
      session(past, then);
      sights_after(past.days_ago, then);
    }
    if (!errors_.empty()) return tl::unexpected(errors_);
    return {};
  }

 private:
  void at(std::int64_t ms) { *clock_ms_ = ms; }

  proto::Response ask(const proto::Request& request) {
    if (!errors_.empty()) return {};
    Result<proto::Response> came = door_.ask(request);
    if (came) return *std::move(came);
    errors_ = came.error();
    return {};
  }

  void record(proto::Record what, std::int64_t then) {
    at(then);
    what.set_event_utc_ms(then);
    proto::Request request;
    *request.mutable_record() = std::move(what);
    ask(request);
  }

  std::string file(const std::string& name) {
    const Result<Text> text = read_file(checklists_ + "/" + name);
    if (text) return text->content;
    errors_ = text.error();
    return {};
  }

  void load_sheet() {
    proto::Request request;
    request.mutable_load_sheet()->mutable_sheet()->set_name("otter-bend.textproto");
    request.mutable_load_sheet()->mutable_sheet()->set_content(file("otter-bend.textproto"));
    request.mutable_load_sheet()->set_keep(true);
    ask(request);
  }

  void session(const PastSession& past, std::int64_t then) {
    proto::Request request;
    proto::Record& what = *request.mutable_record();
    what.set_event_utc_ms(then);
    proto::SheetText& text = *what.mutable_session()->mutable_session_file();
    text.set_name(past.file);
    text.set_content(file(std::string("sessions/") + past.file + ".textproto"));
    const proto::Recorded ended = ask(request).recorded();
    endings(past, ended, then);
  }

  /// Most duties are done, the first few with their minutes; every eleventh is passed on.
  void endings(const PastSession& past, const proto::Recorded& ended, std::int64_t then) {
    int number = 0;
    for (const proto::Duty& duty : ended.list().duties()) {
      ++number;
      proto::Record what;
      const bool pass = number % 11 == 0;
      proto::DutyName& name =
          *(pass ? what.mutable_passed_on()->mutable_duty() : what.mutable_done()->mutable_duty());
      name.set_id(duty.id());
      *name.mutable_session() = ended.entry();
      if (pass) what.mutable_passed_on()->set_reason("no time");
      if (!pass && number <= kTimedDuties) {
        const double wobble = 1 + 0.1 * ((number * 7 + past.days_ago) % 5 - 2);
        what.mutable_done()->set_minutes(std::max(0.5, duty.minutes() * past.slower * wobble));
      }
      record(what, then + number * kMinute_ms);
    }
  }

  void seen(const char* bin, const char* word, std::int64_t then) {
    proto::Record what;
    what.mutable_bin_seen()->set_bin(bin);
    what.mutable_bin_seen()->set_seen(word);
    record(what, then);
  }

  void emptied(const char* bin, std::int64_t then) {
    proto::Record what;
    what.mutable_bin_emptied()->set_bin(bin);
    record(what, then);
  }

  void emptyings_before(int days_ago, std::int64_t then) {
    if (days_ago == 19) {
      for (const char* bin : {"cyclone-drum", "planer-bag", "drum-bag", "bench-pail", "bench-tub",
                              "sander-tub", "roaming-tub"}) {
        emptied(bin, then - 120 * kMinute_ms);
      }
    }
    if (days_ago == 9) emptied("planer-bag", then - 60 * kMinute_ms);
  }

  void sights_after(int days_ago, std::int64_t then) {
    const std::int64_t after = then + 90 * kMinute_ms;
    if (days_ago == 14) seen("cyclone-drum", "half", after);
    if (days_ago == 5) seen("planer-bag", "half", after);
    if (days_ago == 3) seen("bench-pail", "full", after);
    if (days_ago != 1) return;
    seen("bench-pail", "full", after - kMinute_ms);
    seen("planer-bag", "full", after);
    proto::Record out;
    out.mutable_machine_out()->set_machine("scroll-saw");
    out.mutable_machine_out()->set_reason("the blade clamp slips");
    record(out, after);
    proto::Record low;
    low.mutable_supply_low()->set_supply("filter-bags");
    low.mutable_supply_low()->set_left(1);
    record(low, after + kMinute_ms);
  }

  DoorClient door_;
  std::string checklists_;
  std::shared_ptr<std::int64_t> clock_ms_;
  Errors errors_;
};

}  // namespace

Result<void> record_demo(const std::string& folder, const std::string& checklists,
                         std::int64_t now_ms, bool past) {
  const auto clock_ms = std::make_shared<std::int64_t>(now_ms);
  Result<DoorClient> door = DoorClient::open(folder, false, [clock_ms] { return *clock_ms; });
  if (!door) return tl::unexpected(door.error());
  proto::Request request;
  request.mutable_saving();
  const Result<proto::Response> saving = door->ask(request);
  if (!saving) return tl::unexpected(saving.error());
  if (saving->saving().sheet_loaded()) return {};
  return DemoWriter(*std::move(door), checklists, clock_ms).write(now_ms, past);
}

}  // namespace chipfall::window
