#pragma once

#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/ledger/clock.h"
#include "core/ledger/schema.h"
#include "core/ledger/sqlite.h"
#include "core/proto/ledger.pb.h"

/// The ledger's file: entries that were made or received, in one SQLite database.
///
/// Guarantees
///  - `append` and `add_received` return after the commit is on disk (WAL, synchronous=FULL); with
///    an error, nothing of the call is in the file.
///  - What an opened ledger shows is on disk, also where its last writer ended before it could say
///    so: an entry that was seen is never lost to a power cut.
///  - An entry never changes and is never deleted. Its bytes are kept as made or received, so kinds
///    and fields of newer versions survive; a checksum guards them and what was read from them.
///  - The same set of entries is visited in the same order, whatever the order of arrival.
///  - The clock is stored with the entries, so the order never runs backwards over a restart.
/// Limits
///  - One thread at a time; other processes wait up to `busy_ms`. Visitors must not throw.
///  - Bounds below; whoever asks for more gets an error, never a part.
///  - A disk that acknowledges a sync and then forgets is beyond it. After an error of the disk
///    itself while committing, close and open again: only then it is sure what is in the file.
///
/// Error codes: kUnreadable (file, disk, damage), kUnknown (a newer or another program's file),
/// kOutOfBounds (full or too large), kMistake (an entry that cannot be one). Each text ends with
/// what to do.
/// Source: sqlite.org/wal.html, sqlite.org/pragma.html (synchronous, application_id, quick_check).
namespace chipfall {

constexpr std::size_t kMostEntryBytes = 64 * 1024;  ///< one entry fits one batch of sync
constexpr std::size_t kMostDeviceBytes = 64;        ///< a device id is 16 random bytes
constexpr std::size_t kMostEntriesAtOnce = 10'000;  ///< in one transaction

struct LedgerOptions {
  std::string device;              ///< of a new file; for an old one empty or the same
  std::int64_t shop_began_ms = 0;  ///< events before are marked; 0: nobody knows
  bool may_create = true;
  bool quick_check = false;  ///< read the whole file for damage: 30 ms for 200,000 short entries
  int busy_ms = 5000;
  std::int64_t most_pages = 0;  ///< of 4 KiB; the file grows no further. 0: SQLite's own limit
};

/// An entry as the visitor sees it. `bytes` is valid during the visit only.
struct StoredEntry {
  std::int64_t arrival = 0;  ///< 1, 2, 3 ... in this file
  EntryOrder order;
  std::int64_t received_ms = 0;  ///< by this device's clock
  EventDoubt doubt = EventDoubt::kCredible;
  std::string_view bytes;
};

enum class Received {
  kNew,             ///< stored now
  kKnownSame,       ///< was there, byte for byte
  kKnownDifferent,  ///< another entry has that name; the first one stays, the caller keeps this one
};

struct LedgerCounts {
  std::int64_t entries = 0;
  std::int64_t devices = 0;
  std::int64_t doubtful = 0;
};

class LedgerStore {
 public:
  /// Opens or creates; brings an older file forward in one transaction; refuses a newer one, and
  /// files of other programs, before changing anything. Every setting is read back.
  static OrError<LedgerStore> open(const std::string& path, const LedgerOptions& options);

  /// Gives each entry this device's name, its next sequence and clock, and stores them all or none.
  /// Event time, member and payload are the caller's. On an error the entries are as before.
  OrError<void> append(std::span<proto::Entry> entries, std::int64_t now_ms);
  OrError<void> append(proto::Entry& entry, std::int64_t now_ms) {
    return append(std::span(&entry, 1), now_ms);
  }

  /// Stores what another device sent: all or none, answers in the same order. Idempotent by
  /// (device, sequence). An error names the first entry that cannot be one; the caller parks that
  /// one and offers the rest again.
  OrError<std::vector<Received>> add_received(std::span<const std::string> entries,
                                              std::int64_t now_ms);

  /// What else belongs into one transaction with it: run before its commit, with the answers;
  /// writes through `file()`. An error rolls everything back.
  using InTransaction = std::function<OrError<void>(std::span<const Received> answers)>;
  OrError<std::vector<Received>> add_received(std::span<const std::string> entries,
                                              std::int64_t now_ms, const InTransaction& also);

  /// Gives this ledger another name and epoch: its file was found to be a copy or an old backup.
  /// `also` runs in the same transaction, without answers.
  OrError<void> become(const std::string& device, const std::string& epoch,
                       const InTransaction& also);

  /// Visits by (clock, device, sequence) until the visitor says false. A damaged entry ends the
  /// visit with an error that names it.
  OrError<void> visit(const std::function<bool(const StoredEntry&)>& visitor);

  /// Visits in the order of arrival, from the one after `after` on. What this file received last
  /// comes last, so a reader that remembers where it stopped misses nothing.
  OrError<void> visit_arrivals(std::int64_t after,
                               const std::function<bool(const StoredEntry&)>& visitor);

  /// Visits one device's entries by sequence, from the one after `after` on.
  OrError<void> visit_device(const std::string& device, std::uint64_t after,
                             const std::function<bool(const StoredEntry&)>& visitor);

  /// The bytes of one entry; nothing where it is not here.
  OrError<std::optional<std::string>> bytes_of(const std::string& device, std::uint64_t sequence);

  /// The arrival of the latest entry; 0 when there is none.
  OrError<std::int64_t> last_arrival();

  /// Random bytes that name this file's life since it was made or restored from a backup; empty
  /// until set. Whoever syncs compares them, so that lost history is noticed.
  OrError<std::string> epoch();
  OrError<void> set_epoch(const std::string& epoch);

  /// Runs a part of the same file that is not entries: views keep their tables there.
  SqliteFile& file() { return *file_; }

  OrError<std::map<std::string, std::uint64_t>> highest_sequences();
  OrError<LedgerCounts> counts();
  OrError<LedgerSettings> settings();

  /// Reads the whole file: pages by SQLite's quick_check, entries by their checksums.
  OrError<void> check();

  const std::string& device() const { return device_; }
  HybridTime clock() const { return clock_.last(); }

 private:
  LedgerStore() = default;

  /// The statements of a write, prepared at the first one: that costs as much as the write itself.
  struct Writing;
  OrError<void> prepare_writing();

  OrError<void> read_self(const LedgerOptions& options);
  OrError<void> visit_rows(Statement& statement,
                           const std::function<bool(const StoredEntry&)>& visitor);

  // On the heap, since statements point to it and the store may be moved.
  std::unique_ptr<SqliteFile> file_;
  std::shared_ptr<Writing> writing_;
  std::string device_;
  std::int64_t shop_began_ms_ = 0;
  HybridClock clock_;
};

}  // namespace chipfall
