#include <atomic>
#include <cstring>
#include <mutex>
#include <new>
#include <span>
#include <string>
#include <utility>

#include "core/door/chipfall.h"
#include "core/door/door.h"
#include "core/shop/local_time.h"

/// The C functions of chipfall.h over class Door: no exception gets out, and what is handed out is
/// counted.

struct cf_door {
  std::mutex mutex;
  std::unique_ptr<chipfall::Door> door;
  void* user = nullptr;
  void (*release_user)(void*) = nullptr;
};

namespace {

std::atomic<std::uint64_t> live_handles{0};

/// The size of cf_options in ABI version 1; later ones are larger.
constexpr std::uint32_t kFirstOptions = sizeof(cf_options);
/// No folder's path is longer on any system that phones have.
constexpr std::uint64_t kMostPathBytes = 4096;

/// What the work gives, or what its exception means.
template <typename Work>
cf_status guarded(const Work& work) noexcept {
  try {
    return work();
  } catch (const std::bad_alloc&) {
    return CF_NO_MEMORY;
  } catch (...) {
    return CF_INTERNAL;
  }
}

/// The bytes in memory of their own, counted.
void hand_out(const std::string& from, cf_bytes& to) {
  if (from.empty()) return;
  auto* data = new std::uint8_t[from.size()];
  std::memcpy(data, from.data(), from.size());
  to = {data, from.size()};
  live_handles.fetch_add(1);
}

chipfall::DoorOptions options_of(const cf_options& from) {
  chipfall::DoorOptions out;
  if (from.data_folder_size > 0) {
    out.data_folder.assign(from.data_folder, static_cast<std::size_t>(from.data_folder_size));
  }
  out.must_exist = (from.flags & CF_MUST_EXIST) != 0;
  out.now_ms = [clock = from.clock, user = from.user] { return clock(user); };
  if (from.random != nullptr) {
    out.random = [random = from.random, user = from.user](std::span<std::uint8_t> bytes) {
      return random(user, bytes.data(), bytes.size()) == 0;
    };
  }
  out.open_syncing = chipfall::syncing_of_library();
  return out;
}

bool right_options(const cf_options& options) {
  if (options.size < kFirstOptions || options.clock == nullptr) return false;
  if ((options.flags & ~CF_MUST_EXIST) != 0) return false;
  if (options.data_folder == nullptr) return options.data_folder_size == 0;
  return options.data_folder_size <= kMostPathBytes &&
         std::string_view(options.data_folder, options.data_folder_size).find('\0') ==
             std::string_view::npos;
}

}  // namespace

uint32_t cf_abi_version(void) noexcept { return CF_ABI_VERSION; }

const char* cf_version(void) noexcept { return CHIPFALL_VERSION; }

cf_status cf_open(const cf_options* options, cf_door** door, cf_bytes* error) noexcept {
  if (door != nullptr) *door = nullptr;
  if (error != nullptr) *error = {nullptr, 0};
  if (options == nullptr || door == nullptr || !right_options(*options)) return CF_BAD_ARGUMENT;
  const cf_status status = guarded([&]() -> cf_status {
    auto made = std::make_unique<cf_door>();
    auto opened = chipfall::Door::open(options_of(*options));
    if (!opened) {
      if (error != nullptr) hand_out(chipfall::mistakes_response({opened.error()}), *error);
      return CF_NOT_OPENED;
    }
    made->door = *std::move(opened);
    made->user = options->user;
    made->release_user = options->release_user;
    live_handles.fetch_add(1);
    *door = made.release();
    return CF_OK;
  });
  if (status != CF_OK && options->release_user != nullptr) options->release_user(options->user);
  return status;
}

cf_status cf_call(cf_door* door, const uint8_t* request, uint64_t size,
                  cf_bytes* response) noexcept {
  if (response != nullptr) *response = {nullptr, 0};
  if (door == nullptr || response == nullptr || (request == nullptr && size > 0)) {
    return CF_BAD_ARGUMENT;
  }
  return guarded([&]() -> cf_status {
    const std::lock_guard lock(door->mutex);
    const std::string_view bytes(reinterpret_cast<const char*>(request),
                                 static_cast<std::size_t>(size));
    hand_out(door->door->call(bytes), *response);
    return CF_OK;
  });
}

cf_status cf_poll(cf_door* door, uint64_t* changes) noexcept {
  if (door == nullptr || changes == nullptr) return CF_BAD_ARGUMENT;
  return guarded([&]() -> cf_status {
    const std::lock_guard lock(door->mutex);
    *changes = door->door->changes();
    return CF_OK;
  });
}

void cf_close(cf_door* door) noexcept {
  if (door == nullptr) return;
  const auto release = std::pair(door->release_user, door->user);
  delete door;
  live_handles.fetch_sub(1);
  if (release.first != nullptr) release.first(release.second);
}

void cf_free(cf_bytes* bytes) noexcept {
  if (bytes == nullptr || bytes->data == nullptr) return;
  delete[] bytes->data;
  *bytes = {nullptr, 0};
  live_handles.fetch_sub(1);
}

cf_status cf_zone_rules(const char* name, uint64_t name_size, const uint8_t* bytes,
                        uint64_t size) noexcept {
  if (name == nullptr || bytes == nullptr || name_size > kMostPathBytes ||
      size > chipfall::kMostZoneBytes) {
    return CF_BAD_ARGUMENT;
  }
  return guarded([&]() -> cf_status {
    const bool given = chipfall::give_zone_rules(
        std::string(name, static_cast<std::size_t>(name_size)),
        std::string(reinterpret_cast<const char*>(bytes), static_cast<std::size_t>(size)));
    return given ? CF_OK : CF_BAD_ARGUMENT;
  });
}

uint64_t cf_live_handles(void) noexcept { return live_handles.load(); }
