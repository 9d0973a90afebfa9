#pragma once

#include <memory>
#include <string>
#include <vector>

#include "sync/hub_store.h"

/// A hub's data folder:
///
///     hub.crt, hub.key    its certificate and key, where none were given
///     authority.crt       of the shop's own authority, where it has one: what phones install;
///     authority-issuing.crt, authority-issuing.key   what signs hub.crt (sync/hub_authority.h)
///     shops/ID.hub        one file for each shop
///     reserve             see sync/hub_reserve.h
///     served.conf         how the last hub that served from here is reached, for join codes
///     serving             locked while a hub serves from here; tells its process and port
///
/// The folder and all in it are for the hub's own user only.
namespace chipfall {

constexpr std::size_t kMostShops = 100;  ///< in one hub: each keeps two open files and its caches
constexpr std::size_t kShopIdBytes = 8;  ///< of chance, written in hexadecimal

class HubFolder {
 public:
  /// Makes what is missing of the folder itself, where it may.
  static OrError<HubFolder> open(const std::string& path, bool may_create);

  const std::string& path() const { return path_; }
  std::string certificate() const { return path_ + "/hub.crt"; }
  std::string key() const { return path_ + "/hub.key"; }
  std::string authority() const { return path_ + "/authority.crt"; }
  std::string issuing() const { return path_ + "/authority-issuing.crt"; }
  std::string issuing_key() const { return path_ + "/authority-issuing.key"; }
  std::string reserve() const { return path_ + "/reserve"; }
  std::string served() const { return path_ + "/served.conf"; }
  std::string serving() const { return path_ + "/serving"; }
  std::string shops() const { return path_ + "/shops"; }
  std::string shop_file(const std::string& shop) const { return shops() + "/" + shop + ".hub"; }

  /// Makes the hub's own key and certificate unless they are there.
  OrError<void> ensure_keys() const;
  /// Ids of the shops that have a file, sorted.
  OrError<std::vector<std::string>> shop_ids() const;
  OrError<std::unique_ptr<SqliteHubLog>> add_shop(const std::string& name,
                                                  const HubStoreOptions& options) const;
  OrError<std::unique_ptr<SqliteHubLog>> open_shop(const std::string& shop,
                                                   const HubStoreOptions& options) const;
  /// The shop with this id or name; the only one where `asked` is empty.
  OrError<std::unique_ptr<SqliteHubLog>> find_shop(const std::string& asked) const;

 private:
  std::string path_;
};

/// Held by the hub that serves from a folder, and by a restore: two at once would not agree.
class ServingLock {
 public:
  static OrError<ServingLock> take(const HubFolder& folder);
  ServingLock(ServingLock&& other) noexcept;
  ServingLock& operator=(ServingLock&&) = delete;
  ~ServingLock();

  /// For the other commands: where phones connect.
  OrError<void> tell_port(std::uint16_t port) const;
  /// The port of the hub that serves from this folder now; 0: none does.
  static std::uint16_t port_in(const HubFolder& folder);

 private:
  explicit ServingLock(int file) : file_(file) {}
  int file_;
};

}  // namespace chipfall
