#include "sync/hub_folder.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <filesystem>

#include "sync/hub_keys.h"
#include "sync/installation.h"

namespace chipfall {

namespace fs = std::filesystem;

namespace {

tl::unexpected<Error> folder_error(const std::string& path, std::string message,
                                   ErrorCode code = ErrorCode::kUnreadable) {
  return tl::unexpected(Error{code, std::move(message), {path, 0, 0, ""}});
}

}  // namespace

OrError<HubFolder> HubFolder::open(const std::string& path, bool may_create) {
  HubFolder folder;
  folder.path_ = path;
  std::error_code failure;
  if (may_create) {
    fs::create_directories(folder.shops(), failure);
    if (!failure) fs::permissions(path, fs::perms::owner_all, failure);
  }
  if (!failure && fs::is_directory(folder.shops(), failure)) return folder;
  return folder_error(path, may_create
                                ? fmt::format("this folder cannot be used: {}", failure.message())
                                : std::string("there is no hub's data here: start one with "
                                              "`chipfall-hub serve --data FOLDER`, or name another "
                                              "folder"));
}

OrError<void> HubFolder::ensure_keys() const {
  std::error_code ignored;
  const bool has_certificate = fs::exists(certificate(), ignored);
  const bool has_key = fs::exists(key(), ignored);
  if (has_certificate && has_key) return {};
  if (has_certificate != has_key) {
    return folder_error(has_key ? certificate() : key(),
                        "is missing while its other half is there: restore it from a backup. A new "
                        "key would turn every phone of the shop away");
  }
  return make_keys(certificate(), key());
}

OrError<std::vector<std::string>> HubFolder::shop_ids() const {
  std::vector<std::string> ids;
  std::error_code failure;
  for (fs::directory_iterator at(shops(), failure), end; !failure && at != end;
       at.increment(failure)) {
    if (at->path().extension() == ".hub") ids.push_back(at->path().stem().string());
  }
  if (failure) return folder_error(shops(), "cannot be read: " + failure.message());
  std::sort(ids.begin(), ids.end());
  return ids;
}

OrError<std::unique_ptr<SqliteHubLog>> HubFolder::add_shop(const std::string& name,
                                                           const HubStoreOptions& options) const {
  const auto ids = shop_ids();
  if (!ids) return tl::unexpected(ids.error());
  if (ids->size() >= kMostShops) {
    return folder_error(shops(), fmt::format("holds {} shops, the most there may be", kMostShops),
                        ErrorCode::kOutOfBounds);
  }
  const std::string id = hex_of(fresh_bytes(kShopIdBytes));
  return SqliteHubLog::create(shop_file(id), id, name, fresh_bytes(kEpochBytes), options);
}

OrError<std::unique_ptr<SqliteHubLog>> HubFolder::open_shop(const std::string& shop,
                                                            const HubStoreOptions& options) const {
  auto log = SqliteHubLog::open(shop_file(shop), options);
  if (!log || (*log)->shop() == shop) return log;
  return folder_error(shop_file(shop),
                      fmt::format("holds the shop {}; give it that name", (*log)->shop()));
}

OrError<std::unique_ptr<SqliteHubLog>> HubFolder::find_shop(const std::string& asked) const {
  const auto ids = shop_ids();
  if (!ids) return tl::unexpected(ids.error());
  HubStoreOptions options;
  options.quick_check = false;
  std::string known;
  std::unique_ptr<SqliteHubLog> found;
  for (const std::string& id : *ids) {
    auto log = open_shop(id, options);
    if (!log) return log;
    known += fmt::format("\n  {}  {}", id, (*log)->shop_name());
    if (!asked.empty() && id != asked && (*log)->shop_name() != asked) continue;
    if (found) {
      return folder_error(path_,
                          fmt::format("holds several such shops; name one by its id with "
                                      "--shop:{}",
                                      known),
                          ErrorCode::kMistake);
    }
    found = std::move(*log);
  }
  if (found) return found;
  return folder_error(path_,
                      asked.empty() ? std::string("holds no shop yet: start the hub once")
                                    : fmt::format("has no shop \"{}\"; it has:{}", asked, known),
                      ErrorCode::kUnknown);
}

OrError<ServingLock> ServingLock::take(const HubFolder& folder) {
  const int file = ::open(folder.serving().c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
  if (file < 0) {
    return folder_error(folder.serving(),
                        std::string("cannot be written: ") + std::strerror(errno));
  }
  ServingLock lock(file);
  // Another command that looks whether a hub is serving holds it for a moment.
  for (int tries = 1; ::flock(file, LOCK_EX | LOCK_NB) != 0; ++tries) {
    if (tries < 5) {
      ::usleep(50'000);
      continue;
    }
    return folder_error(folder.path(),
                        "a hub is serving from this folder: stop it first, or name "
                        "another folder");
  }
  return lock;
}

ServingLock::ServingLock(ServingLock&& other) noexcept : file_(std::exchange(other.file_, -1)) {}

ServingLock::~ServingLock() {
  if (file_ < 0) return;
  [[maybe_unused]] const int emptied = ::ftruncate(file_, 0);
  ::close(file_);
}

OrError<void> ServingLock::tell_port(std::uint16_t port) const {
  const std::string text = fmt::format("port {}\nprocess {}\n", port, ::getpid());
  if (::ftruncate(file_, 0) == 0 &&
      ::pwrite(file_, text.data(), text.size(), 0) == static_cast<ssize_t>(text.size())) {
    return {};
  }
  return folder_error("serving", std::string("cannot be written: ") + std::strerror(errno));
}

std::uint16_t ServingLock::port_in(const HubFolder& folder) {
  const int file = ::open(folder.serving().c_str(), O_RDONLY | O_CLOEXEC);
  if (file < 0) return 0;
  // What a hub wrote that was killed is still there, but its lock is not.
  const bool serving = ::flock(file, LOCK_SH | LOCK_NB) != 0;
  std::array<char, 64> text{};
  const bool read = serving && ::pread(file, text.data(), text.size() - 1, 0) > 0;
  ::close(file);
  unsigned port = 0;
  if (!read || std::sscanf(text.data(), "port %u", &port) != 1 || port > 65535) return 0;
  return static_cast<std::uint16_t>(port);
}

}  // namespace chipfall
