#pragma once

#include <atomic>
#include <memory>
#include <mutex>
#include <unordered_map>

#include "sync/hub_log.h"

/// One shop's log in one SQLite file.
///
/// Threads: `commit` and `fold_wal` on one thread, everything else on another; the two do not wait
/// for each other except where both write. Another process (join-code, revoke, backup) may work on
/// the same file meanwhile.
///
/// Every entry carries a checksum over itself and its place, compared whenever it is read. An error
/// of the disk closes the writing connection, which is opened again by the next commit: only so is
/// it sure what is in the file. Error codes as in core/ledger/store.h.
namespace chipfall {

constexpr std::size_t kMostDevicesOfShop = 5'000;  ///< names, revoked and former ones included
constexpr std::int64_t kMostOpenCodes = 200;       ///< join codes of a shop, unused and in time
/// How long a code is remembered after it ran out, so that its holder hears why it fails.
constexpr std::int64_t kCodeRemembered_ms = 7LL * 24 * 60 * 60 * 1000;
constexpr std::size_t kMostShopNameBytes = 100;
constexpr std::size_t kEpochBytes = 16;

struct HubStoreOptions {
  bool quick_check = true;      ///< read the whole file for damage at the start
  int busy_ms = 5000;           ///< waiting for another process's lock
  std::int64_t most_pages = 0;  ///< of 4 KiB; the file grows no further. 0: SQLite's own limit
};

class SqliteHubLog final : public HubLog {
 public:
  /// A new file for a new shop; `epoch` is kEpochBytes of chance.
  static OrError<std::unique_ptr<SqliteHubLog>> create(const std::string& path,
                                                       const std::string& shop,
                                                       const std::string& shop_name,
                                                       const std::string& epoch,
                                                       const HubStoreOptions& options);
  static OrError<std::unique_ptr<SqliteHubLog>> open(const std::string& path,
                                                     const HubStoreOptions& options);

  std::string shop() const override { return shop_; }
  std::string shop_name() const override { return shop_name_; }
  OrError<std::vector<HubEpoch>> epochs() override;
  OrError<std::uint64_t> last_position() override { return last_position_.load(); }
  OrError<Held> held(const std::string& device) override;
  OrError<std::string> short_hash_of(const std::string& device, std::uint64_t sequence) override;
  OrError<void> visit(std::uint64_t after,
                      const std::function<bool(const LoggedEntry&)>& visitor) override;
  OrError<std::vector<Verdicts>> commit(std::span<const Offer> offers,
                                        std::int64_t now_utc_ms) override;
  OrError<std::optional<HubDevice>> device(const std::string& name) override;
  OrError<void> put_device(const HubDevice& device) override;
  OrError<std::optional<HubJoinCode>> join_code(const std::string& secret_hash) override;
  OrError<void> put_join_code(const HubJoinCode& code) override;
  OrError<void> redeem(const HubJoinCode& code, const HubDevice& device) override;

  /// Adds a code that somebody asked for; forgets those that ran out long ago.
  OrError<void> add_join_code(const HubJoinCode& code, std::int64_t now_utc_ms);
  OrError<std::vector<HubDevice>> devices();
  /// Revokes all names of this device; whether there is such a device.
  OrError<bool> revoke(const std::string& device);
  /// Goes up with every change of a device, by whichever process.
  OrError<std::int64_t> membership();

  /// After a restore: what this file holds is all that is left of the epochs before.
  OrError<void> begin_epoch(const std::string& epoch);
  /// A whole copy as of now, without holding up those who write. `path` must not exist.
  OrError<void> back_up(const std::string& path);
  /// Reads everything: pages and indexes, each entry's checksum, gaps in the positions.
  OrError<void> check();

  /// Folds the write-ahead log into the file and cuts it to nothing, unless somebody reads just
  /// now.
  OrError<void> fold_wal();
  std::int64_t wal_bytes() const;
  std::int64_t file_bytes() const;
  const std::string& path() const { return path_; }
  /// Whether the last failed commit failed for want of space.
  bool disk_full() const { return disk_full_.load(); }

 private:
  /// A connection and the statements prepared on it.
  struct Connection;

  SqliteHubLog();

 public:
  ~SqliteHubLog() override;

 private:
  static OrError<std::unique_ptr<Connection>> connect(const std::string& path, bool may_create,
                                                      const HubStoreOptions& options);
  OrError<void> read_self();
  OrError<void> reopen_writer();
  void note_failure();
  OrError<std::vector<Verdicts>> add_offers(std::span<const Offer> offers, std::int64_t now_utc_ms);
  OrError<std::int64_t> number_of_name(const std::string& device);
  OrError<proto::Verdict> add_entry(std::int64_t name, const std::string& device,
                                    std::uint64_t sequence, const std::string& bytes,
                                    std::int64_t now_utc_ms);
  OrError<proto::Verdict> compare_entry(std::int64_t name, std::uint64_t sequence,
                                        const std::string& bytes);
  OrError<void> write_device(const HubDevice& device);

  std::string path_, shop_, shop_name_;
  HubStoreOptions options_;
  std::unique_ptr<Connection> reader_, writer_;
  std::mutex writing_;  // one write transaction at a time, without SQLite's sleeping between tries
  std::unordered_map<std::string, std::int64_t> names_;  // of committed entries; the writer's own
  std::unordered_map<std::string, std::int64_t> new_names_;  // of the transaction that runs
  std::uint64_t next_position_ = 0;
  bool writer_failed_ = false;
  std::atomic<std::uint64_t> last_position_{0};
  std::atomic<bool> disk_full_{false};
};

}  // namespace chipfall
