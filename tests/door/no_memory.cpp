// Every function of the door while memory runs out at the 1st, 2nd, 3rd ... allocation: it says so,
// leaks nothing, and goes on working. usage: door_no_memory SHEET
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <functional>
#include <iterator>
#include <new>
#include <string>
#include <vector>

#include <unistd.h>

#include "core/door/chipfall.h"
#include "core/proto/door.pb.h"

namespace {

constexpr long kPlenty = -1;
long allocations_left = kPlenty;

void* take_or_null(std::size_t size) {
  if (allocations_left == 0) return nullptr;
  if (allocations_left > 0) --allocations_left;
  return std::malloc(size == 0 ? 1 : size);
}

void* take(std::size_t size) {
  void* memory = take_or_null(size);
  if (memory == nullptr) throw std::bad_alloc();
  return memory;
}

}  // namespace

void* operator new(std::size_t size) { return take(size); }
void* operator new[](std::size_t size) { return take(size); }
// Stable sorts take their buffers so, and do without.
void* operator new(std::size_t size, const std::nothrow_t&) noexcept { return take_or_null(size); }
void* operator new[](std::size_t size, const std::nothrow_t&) noexcept {
  return take_or_null(size);
}
void operator delete(void* memory) noexcept { std::free(memory); }
void operator delete[](void* memory) noexcept { std::free(memory); }
void operator delete(void* memory, std::size_t) noexcept { std::free(memory); }
void operator delete[](void* memory, std::size_t) noexcept { std::free(memory); }

namespace {

namespace fs = std::filesystem;
using namespace chipfall;

int failures = 0;
void check(bool so, const std::string& what) {
  if (so) return;
  std::fprintf(stderr, "not so: %s\n", what.c_str());
  ++failures;
}

std::int64_t test_clock(void*) { return 1'780'000'000'000; }
std::int32_t test_random(void*, std::uint8_t* bytes, std::uint64_t size) {
  for (std::uint64_t i = 0; i < size; ++i) bytes[i] = static_cast<std::uint8_t>(i * 7 + 3);
  return 0;
}

cf_options options_for(const std::string& folder) {
  cf_options options{};
  options.size = sizeof options;
  options.data_folder = folder.data();
  options.data_folder_size = folder.size();
  options.clock = test_clock;
  options.random = test_random;
  return options;
}

/// All of the first allocations, then fewer and fewer: a plan makes some hundred thousand.
long next(long n) { return n < 150 ? n + 1 : n + n / 6; }

/// Runs `work` with ever more memory until it succeeds; it must say CF_NO_MEMORY until then.
int until_enough(const std::string& name, const std::function<cf_status()>& work) {
  int refused = 0;
  for (long n = 0;; n = next(n)) {
    allocations_left = n;
    const cf_status status = work();
    const bool ran_out = allocations_left == 0;
    allocations_left = kPlenty;
    if (status == CF_OK) {
      check(!ran_out || n > 0, name);
      return refused;
    }
    check(status == CF_NO_MEMORY, name + ": status " + std::to_string(status));
    ++refused;
    if (status != CF_NO_MEMORY || n > 100'000'000) return refused;
  }
}

std::vector<std::pair<std::string, proto::Request>> requests(const std::string& sheet) {
  std::vector<std::pair<std::string, proto::Request>> all;
  const auto add = [&](const char* name) -> proto::Request& {
    return all.emplace_back(name, proto::Request()).second;
  };
  proto::LoadSheet& load = *add("load sheet").mutable_load_sheet();
  load.mutable_sheet()->set_content(sheet);
  load.set_keep(true);
  add("list shop").mutable_list_shop();
  proto::PlanWindDown plan;
  proto::Use& use = *plan.mutable_draft()->add_uses();
  use.set_machine("table-saw");
  use.set_minutes(20);
  use.set_stock("red-oak");
  *add("wind-down").mutable_wind_down() = plan;
  *add("map").mutable_draw_map() = plan;
  *add("record session").mutable_record()->mutable_session() = plan;
  add("record note")
      .mutable_record()
      ->mutable_note()
      ->set_text("a note long enough to need memory");
  add("record done").mutable_record()->mutable_done()->mutable_duty()->set_id("reset:table-saw");
  add("standing").mutable_standing();
  add("history").mutable_history();
  add("export").mutable_export_record();
  add("saving").mutable_saving();
  add("shop map").mutable_draw_shop();
  add("list").mutable_list();
  add("lock-up").mutable_lock_up();
  add("coordinator").mutable_coordinator();
  proto::Request& phrases = add("list shop in phrases");
  phrases.mutable_list_shop();
  phrases.set_phrases(true);
  proto::AskJoin& join = *add("join").mutable_join();
  join.set_code("CF1*HUB*8443*" + std::string(52, '0') + "*" + std::string(16, '0'));
  join.set_begin(true);
  add("sync opened").mutable_sync()->mutable_opened();
  add("sync message").mutable_sync()->set_message("no frame");
  add("sync closed").mutable_sync()->mutable_closed();
  add("sync state").mutable_sync_state();
  return all;
}

bool has_mistakes(const cf_bytes& bytes) {
  proto::Response response;
  const bool read = response.ParseFromArray(bytes.data, static_cast<int>(bytes.size));
  return !read || response.mistakes_size() > 0;
}

void run(const std::string& folder, const std::string& sheet) {
  // Once with plenty: what libraries set up for good is no part of this.
  const auto asks = requests(sheet);
  for (int round = 0; round < 2; ++round) {
    const std::string data = folder + "/" + std::to_string(round);
    fs::create_directories(data);
    const cf_options options = options_for(data);
    cf_door* door = nullptr;
    const auto open = [&] { return cf_open(&options, &door, nullptr); };
    if (round == 0) {
      cf_bytes error{};
      const cf_status opened = cf_open(&options, &door, &error);
      check(opened == CF_OK,
            std::string("open: ").append(reinterpret_cast<char*>(error.data), error.size));
      cf_free(&error);
    } else {
      check(until_enough("open", open) > 5, "opening takes memory");
    }
    for (const auto& [name, request] : asks) {
      const std::string bytes = request.SerializeAsString();
      cf_bytes response{};
      const auto call = [&] {
        return cf_call(door, reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size(),
                       &response);
      };
      if (round == 0) {
        check(call() == CF_OK, name);
      } else {
        check(until_enough(name, call) > 3, name + " takes memory");
      }
      // Nothing was reset yet; and where memory ran out the code to join with is given anew.
      const bool may_refuse = name == "record done" || (round == 1 && name == "sync opened");
      check(!has_mistakes(response) || may_refuse, name + ": mistakes");
      cf_free(&response);
    }
    std::uint64_t changes = 0;
    until_enough("poll", [&] { return cf_poll(door, &changes); });
    cf_close(door);
  }
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) return 2;
  std::ifstream in(argv[1], std::ios::binary);
  const std::string sheet{std::istreambuf_iterator<char>(in), {}};
  const std::string folder =
      (fs::temp_directory_path() / ("chipfall-memory-" + std::to_string(::getpid()))).string();
  run(folder, sheet);
  fs::remove_all(folder);
  check(cf_live_handles() == 0, "all is given back");
  return failures == 0 ? 0 : 1;
}
