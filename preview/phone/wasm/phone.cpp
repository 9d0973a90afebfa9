#include <cstring>
#include <utility>

#include "core/door/chipfall.h"
#include "preview/phone/wasm/browser.h"

/// The door as JavaScript opens it: one door, numbers that are doubles, and the last answer's bytes
/// where core.ts copies them from. Nothing of the core is decided here.
namespace {

cf_door* open_door = nullptr;
cf_bytes last{};

std::int64_t clock_now(void*) { return static_cast<std::int64_t>(page_now()); }

std::int32_t fill_random(void*, std::uint8_t* bytes, std::uint64_t size) {
  return page_random(bytes, static_cast<std::uint32_t>(size));
}

}  // namespace

#define CHIPFALL_EXPORT(name) __attribute__((used, export_name(#name)))

extern "C" {

/// Room for bytes that JavaScript writes; to be given back by phone_release.
CHIPFALL_EXPORT(reserve) std::uint8_t* phone_reserve(std::uint32_t size) {
  return new std::uint8_t[size];
}
CHIPFALL_EXPORT(release) void phone_release(std::uint8_t* bytes) { delete[] bytes; }

/// A cf_status. With a ledger, or without, where nothing is kept.
CHIPFALL_EXPORT(open) std::int32_t phone_open(std::int32_t with_ledger) {
  if (open_door != nullptr) return CF_BAD_ARGUMENT;
  cf_options options{};
  options.size = sizeof options;
  options.data_folder = with_ledger != 0 ? "/" : nullptr;
  options.data_folder_size = with_ledger != 0 ? 1 : 0;
  options.clock = clock_now;
  options.random = fill_random;
  cf_free(&last);
  return cf_open(&options, &open_door, &last);
}

/// A cf_status; the answer's bytes are `answer` and `answer_size` until the next call.
CHIPFALL_EXPORT(call) std::int32_t phone_call(const std::uint8_t* request, std::uint32_t size) {
  cf_free(&last);
  return cf_call(open_door, request, size, &last);
}
CHIPFALL_EXPORT(answer) const std::uint8_t* phone_answer() { return last.data; }
CHIPFALL_EXPORT(answer_size) std::uint32_t phone_answer_size() {
  return static_cast<std::uint32_t>(last.size);
}

/// Below 0 when it failed.
CHIPFALL_EXPORT(poll) double phone_poll() {
  std::uint64_t changes = 0;
  return cf_poll(open_door, &changes) == CF_OK ? static_cast<double>(changes) : -1;
}

CHIPFALL_EXPORT(zone_rules)
std::int32_t phone_zone_rules(const char* name, std::uint32_t name_size, const std::uint8_t* bytes,
                              std::uint32_t size) {
  return cf_zone_rules(name, name_size, bytes, size);
}

CHIPFALL_EXPORT(close) void phone_close() {
  cf_free(&last);
  cf_close(std::exchange(open_door, nullptr));
}

CHIPFALL_EXPORT(version) const char* phone_version() { return cf_version(); }

/// Doors and bytes not given back, for tests.
CHIPFALL_EXPORT(live) double phone_live() { return static_cast<double>(cf_live_handles()); }
}
