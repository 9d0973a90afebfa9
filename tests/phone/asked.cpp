#include "tests/phone/asked.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <memory>

#include "core/door/chipfall.h"
#include "tests/phone/with_messages.h"

namespace chipfall::test {
namespace {

namespace fs = std::filesystem;

constexpr std::int64_t kBegin_ms = 1'780'000'000'000;  // as the recorded requests expect
constexpr std::int64_t kHour_ms = 3'600'000;
constexpr int kDays = 30;
const std::string kSource = CHIPFALL_SOURCE_DIR;

[[noreturn]] void give_up(const std::string& why) {
  fmt::print(stderr, "{}\n", why);
  std::exit(1);
}

/// A native door with an empty ledger, and what it was asked.
class NativeDoor {
 public:
  NativeDoor(std::vector<Asked>& all, const std::string& about) : all_(all) {
    char name[] = "/tmp/chipfall-phone-XXXXXX";
    if (mkdtemp(name) == nullptr) give_up("no folder for the native door");
    folder_ = name;
    cf_options options{};
    options.size = sizeof options;
    options.data_folder = folder_.c_str();
    options.data_folder_size = folder_.size();
    options.clock = [](void* user) { return *static_cast<std::int64_t*>(user); };
    options.random = [](void*, std::uint8_t* bytes, std::uint64_t size) {
      std::memset(bytes, kRandomByte, size);
      return std::int32_t{0};
    };
    options.user = &now_ms_;
    all_.push_back({Asked::Kind::kDoor, about});
    set_clock(kBegin_ms);
    if (cf_open(&options, &door_, nullptr) != CF_OK) give_up("the native door did not open");
  }
  NativeDoor(const NativeDoor&) = delete;
  NativeDoor& operator=(const NativeDoor&) = delete;
  ~NativeDoor() {
    cf_close(door_);
    std::error_code ignored;
    fs::remove_all(folder_, ignored);
  }

  void set_clock(std::int64_t now_ms) {
    now_ms_ = now_ms;
    all_.push_back({Asked::Kind::kClock, std::to_string(now_ms)});
  }

  /// Mistakes are answers, too: both cores must make the same ones.
  proto::Response ask(const proto::Request& plain) {
    const std::string request = with_messages(plain).SerializeAsString();
    cf_bytes bytes{};
    const auto* data = reinterpret_cast<const std::uint8_t*>(request.data());
    if (cf_call(door_, data, request.size(), &bytes) != CF_OK) give_up("a native call failed");
    const std::string answer(reinterpret_cast<const char*>(bytes.data), bytes.size);
    cf_free(&bytes);
    all_.push_back({Asked::Kind::kRequest, request});
    all_.push_back({Asked::Kind::kAnswer, answer});
    proto::Response response;
    if (!response.ParseFromString(answer)) give_up("a native answer cannot be read");
    return response;
  }

  /// Where a mistake would mean that the test tests nothing.
  proto::Response sure_of(const proto::Request& request) {
    proto::Response response = ask(request);
    if (response.mistakes_size() > 0) give_up(response.mistakes(0).message());
    return response;
  }

 private:
  std::vector<Asked>& all_;
  std::string folder_;
  std::int64_t now_ms_ = 0;
  cf_door* door_ = nullptr;
};

std::vector<std::string> files_in(const std::string& folder) {
  std::vector<std::string> all;
  for (const auto& file : fs::directory_iterator(kSource + folder)) all.push_back(file.path());
  std::ranges::sort(all);
  return all;
}

void put_file(const std::string& path, proto::SheetText& out) {
  out.set_name(fs::path(path).filename());
  out.set_content(contents_of(path));
}

proto::Request sheet_loaded() {
  proto::Request request;
  put_file(kSource + "/checklists/otter-bend.textproto",
           *request.mutable_load_sheet()->mutable_sheet());
  request.mutable_load_sheet()->set_keep(true);
  return request;
}

proto::PlanWindDown draft_of(const std::string& session) {
  proto::PlanWindDown draft;
  put_file(session, *draft.mutable_session_file());
  return draft;
}

/// Everything that only reads.
void ask_for_all(NativeDoor& door) {
  proto::Request request;
  request.mutable_list_shop();
  door.sure_of(request);
  request.mutable_standing();
  door.sure_of(request);
  request.mutable_history();
  door.sure_of(request);
  request.mutable_export_record()->set_member_names(true);
  door.sure_of(request);
  request.mutable_saving();
  door.sure_of(request);
  request.mutable_lock_up()->set_people(2);
  door.sure_of(request);
  request.mutable_lock_up()->set_within_minutes(8);
  door.sure_of(request);
  request.mutable_bins();
  door.sure_of(request);
  request.mutable_round()->set_next_round_days(7);
  door.sure_of(request);
  request.mutable_coordinator()->set_next_round_days(7);
  door.sure_of(request);
  request.mutable_draw_shop();
  door.ask(request);
  request.mutable_sync_state();
  door.ask(request);
}

void ask_about_session(std::vector<Asked>& all, const std::string& session) {
  NativeDoor door(all, "the session " + fs::path(session).stem().string());
  door.sure_of(sheet_loaded());
  proto::Request request;
  proto::PlanWindDown& draft = *request.mutable_wind_down() = draft_of(session);
  door.sure_of(request);
  draft.set_extraction_off(true);
  door.sure_of(request);
  draft.set_within_minutes(12);
  door.sure_of(request);
  draft = draft_of(session);
  put_file(kSource + "/checklists/otter-bend-state.textproto", *draft.mutable_state_file());
  draft.mutable_draft()->set_people(4);
  door.sure_of(request);
  proto::Request map;
  *map.mutable_draw_map() = draft;
  door.sure_of(map);
  proto::Request record;
  *record.mutable_record()->mutable_session() = draft_of(session);
  door.sure_of(record);
  ask_for_all(door);
}

void end_some(NativeDoor& door, int day) {
  proto::Request request;
  request.mutable_standing();
  const proto::Response standing = door.sure_of(request);
  int i = 0;
  for (const proto::StandingDuty& waiting : standing.standing().duties()) {
    if (++i > 6) break;
    proto::Request ending;
    proto::Record& record = *ending.mutable_record();
    if ((i + day) % 4 == 0) {
      record.mutable_passed_on()->mutable_duty()->set_id(waiting.owed().id());
      record.mutable_passed_on()->set_reason("no time");
    } else {
      record.mutable_done()->mutable_duty()->set_id(waiting.owed().id());
      record.mutable_done()->set_minutes(2.0 + (i * 7 + day) % 5);
    }
    door.ask(ending);
  }
}

void look_at_bins(NativeDoor& door, int day) {
  constexpr std::array kBins{"cyclone-drum", "collector-bag", "planer-bag", "bench-pail"};
  constexpr std::array kSeen{"half", "full", "room", "weak pull"};
  const auto at = static_cast<std::size_t>(day);
  proto::Request request;
  request.mutable_record()->mutable_bin_seen()->set_bin(kBins[at % kBins.size()]);
  request.mutable_record()->mutable_bin_seen()->set_seen(kSeen[at / 3 % kSeen.size()]);
  door.ask(request);
  if (day % 6 != 5) return;
  request.mutable_record()->mutable_bin_emptied()->set_bin(kBins[at / 6 % kBins.size()]);
  door.ask(request);
}

/// Two sessions a day; some duties done and timed, some passed on; bins looked at and emptied.
void ask_about_month(std::vector<Asked>& all) {
  NativeDoor door(all, "a month");
  door.sure_of(sheet_loaded());
  const std::vector<std::string> sessions = files_in("/checklists/sessions");
  for (int day = 0; day < kDays; ++day) {
    for (const int evening : {0, 1}) {
      door.set_clock(kBegin_ms + (24 * day + 4 * evening) * kHour_ms);
      const auto which = static_cast<std::size_t>(2 * day + evening) % sessions.size();
      proto::Request request;
      *request.mutable_record()->mutable_session() = draft_of(sessions[which]);
      door.sure_of(request);
      end_some(door, day);
    }
    look_at_bins(door, day);
    if (day % 10 == 9) ask_for_all(door);
  }
}

void ask_recorded(std::vector<Asked>& all) {
  NativeDoor door(all, "the recorded requests");
  for (const std::string& path : files_in("/tests/vectors/door")) {
    proto::Request request;
    if (!request.ParseFromString(contents_of(path))) give_up(path + " is no request");
    door.sure_of(request);
  }
  proto::Request wrong;
  wrong.mutable_record()->mutable_done()->mutable_duty()->set_id("no-such-duty");
  door.ask(wrong);
}

}  // namespace

std::string contents_of(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in) give_up(path + " cannot be read");
  return {std::istreambuf_iterator<char>(in), {}};
}

std::vector<Asked> ask_native() {
  std::vector<Asked> all;
  for (const std::string& session : files_in("/checklists/sessions")) {
    ask_about_session(all, session);
  }
  ask_about_month(all);
  ask_recorded(all);
  return all;
}

std::string written(const std::vector<Asked>& all) {
  std::string out;
  for (const Asked& one : all) {
    out += static_cast<char>(one.kind);
    for (int i = 0; i < 4; ++i) out += static_cast<char>(one.bytes.size() >> (8 * i));
    out += one.bytes;
  }
  return out;
}

std::vector<Asked> read_back(const std::string& bytes) {
  std::vector<Asked> all;
  for (std::size_t at = 0; at + 5 <= bytes.size();) {
    std::size_t size = 0;
    for (std::size_t i = 0; i < 4; ++i) {
      size |= std::size_t{static_cast<unsigned char>(bytes[at + 1 + i])} << (8 * i);
    }
    if (size > bytes.size() - at - 5) give_up("the file is cut short");
    all.push_back({static_cast<Asked::Kind>(bytes[at]), bytes.substr(at + 5, size)});
    at += 5 + size;
  }
  return all;
}

}  // namespace chipfall::test
