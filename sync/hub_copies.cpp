#include "sync/hub_copies.h"

#include <fmt/format.h>

#include <filesystem>

#include "sync/installation.h"

namespace chipfall {

namespace fs = std::filesystem;

namespace {

tl::unexpected<Error> copy_error(const std::string& path, std::string message,
                                 ErrorCode code = ErrorCode::kUnreadable) {
  return tl::unexpected(Error{code, std::move(message), {path, 0, 0, ""}});
}

HubStoreOptions without_check() {
  HubStoreOptions options;
  options.quick_check = false;
  return options;
}

/// Copies a file that must not be there yet; one that is missing is none to copy.
OrError<void> copy_new(const std::string& from, const std::string& to) {
  std::error_code failure;
  if (!fs::exists(from, failure)) return {};
  if (!fs::copy_file(from, to, failure) || failure) {
    return copy_error(to, failure ? "could not be written: " + failure.message()
                                  : std::string("is there already; choose another folder"));
  }
  fs::permissions(to, fs::perms::owner_read | fs::perms::owner_write, failure);
  return {};
}

/// The hub's key and its authority's, which can pose as this hub and as nothing else, as the first
/// can; without it the hub's certificate could not be renewed after a restore.
OrError<void> copy_keys(const HubFolder& from, const HubFolder& to) {
  for (const auto& [one, into] :
       {std::pair(from.certificate(), to.certificate()), std::pair(from.key(), to.key()),
        std::pair(from.authority(), to.authority()), std::pair(from.issuing(), to.issuing()),
        std::pair(from.issuing_key(), to.issuing_key())}) {
    const auto copied = copy_new(one, into);
    if (!copied) return copied;
  }
  return {};
}

/// The copy takes its place only when it is whole, sound and in its new epoch.
OrError<void> restore_shop(const HubFolder& folder, const std::string& from, const std::string& id,
                           std::int64_t now_utc_ms) {
  const std::string place = folder.shop_file(id);
  const std::string making = place + ".restoring";
  std::error_code failure;
  for (const char* ending : {"", "-wal", "-shm"}) fs::remove(making + ending, failure);
  const auto copied = copy_new(from, making);
  if (!copied) return copied;
  {
    const auto log = SqliteHubLog::open(making, without_check());
    if (!log) return tl::unexpected(log.error());
    const auto sound = (*log)->check();
    if (!sound) return sound;
    if ((*log)->shop() != id) return copy_error(from, "holds another shop than its name says");
    const auto begun = (*log)->begin_epoch(fresh_bytes(kEpochBytes));
    if (!begun) return begun;
    const auto folded = (*log)->fold_wal();
    if (!folded) return folded;
  }
  // The old log goes along with its file: beside the new one it would be taken for its own.
  const std::string aside = fmt::format("{}.before-{}", place, now_utc_ms);
  for (const char* ending : {"-wal", "-shm", ""}) {
    if (fs::exists(place + ending, failure)) fs::rename(place + ending, aside + ending, failure);
    if (failure) return copy_error(place, "could not be put aside: " + failure.message());
  }
  fs::rename(making, place, failure);
  if (!failure) return {};
  return copy_error(place, "could not be put in place: " + failure.message());
}

}  // namespace

OrError<std::size_t> back_up_hub(const HubFolder& folder, const std::string& to) {
  const auto copies = HubFolder::open(to, true);
  if (!copies) return tl::unexpected(copies.error());
  const auto ids = folder.shop_ids();
  if (!ids) return tl::unexpected(ids.error());
  for (const std::string& id : *ids) {
    auto log = folder.open_shop(id, without_check());
    if (!log) return tl::unexpected(log.error());
    const auto copied = (*log)->back_up(copies->shop_file(id));
    if (!copied) return tl::unexpected(copied.error());
  }
  const auto keys = copy_keys(folder, *copies);
  if (!keys) return tl::unexpected(keys.error());
  return ids->size();
}

OrError<std::size_t> restore_hub(const HubFolder& folder, const std::string& from,
                                 std::int64_t now_utc_ms) {
  const auto copies = HubFolder::open(from, false);
  if (!copies) return tl::unexpected(copies.error());
  const auto ids = copies->shop_ids();
  if (!ids) return tl::unexpected(ids.error());
  if (ids->empty()) return copy_error(from, "holds no shop", ErrorCode::kMistake);
  for (const std::string& id : *ids) {
    const auto restored = restore_shop(folder, copies->shop_file(id), id, now_utc_ms);
    if (!restored) return tl::unexpected(restored.error());
  }
  std::error_code ignored;
  if (!fs::exists(folder.key(), ignored) && !fs::exists(folder.certificate(), ignored)) {
    const auto keys = copy_keys(*copies, folder);
    if (!keys) return tl::unexpected(keys.error());
  }
  return ids->size();
}

}  // namespace chipfall
