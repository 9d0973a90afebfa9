#pragma once

#include <span>
#include <string>

#include "core/ledger/clock.h"
#include "core/ledger/sqlite.h"

/// The tables of a ledger file, how older ones come forward, and the settings it must run under.
namespace chipfall {

constexpr std::int64_t kLedgerApplicationId = 0x43484950;  ///< "CHIP", in the file's header
constexpr std::int64_t kLedgerVersion = 1;                 ///< of the tables; goes up only

/// What the connection answers when asked back.
struct LedgerSettings {
  std::string journal_mode;
  std::int64_t synchronous = 0;  ///< 2 is FULL
  std::int64_t busy_ms = 0;
  std::int64_t application_id = 0;
  std::int64_t version = 0;
};

OrError<LedgerSettings> read_settings(SqliteFile& file);

/// What a program's files say of themselves in their header, and what is said of others.
struct FileKind {
  std::int64_t application_id = 0;
  std::int64_t version = 0;  ///< of the tables, the newest that is known here
  const char* of_another;    ///< the file belongs to another program
  const char* newer;         ///< the beginning of the sentence: whose the file is
  const char* once_updated;  ///< its end: what to do after an update
};

/// Refuses files of other programs and of newer versions; changes nothing.
OrError<void> check_identity(SqliteFile& file, const FileKind& kind);
OrError<void> check_ledger_identity(SqliteFile& file);

/// SQLite's own check of pages and indexes.
OrError<void> quick_check(SqliteFile& file);

/// WAL, synchronous=FULL, and at most so many pages (0: SQLite's limit), read back.
/// In WAL, synchronous=NORMAL would not sync at commit.
OrError<void> apply_settings(SqliteFile& file, std::int64_t most_pages);

/// Step v is the SQL that brings a file from version v to v + 1.
using LedgerSteps = std::span<const char* const>;

/// The steps of this program, kLedgerVersion of them.
LedgerSteps ledger_steps();

/// Brings the tables from the file's version (0: none yet) to that after the last step, all in one
/// transaction. `device` is who a new file belongs to.
OrError<void> migrate(SqliteFile& file, const std::string& device, LedgerSteps steps);

/// Puts on disk what the file shows. A writer that ended between writing its log and syncing it
/// leaves entries which only the system's memory holds: read by the next opening and passed on, a
/// power cut would lose them here, and their numbers would name other entries. A full disk and
/// another program that does the same are no reason to refuse: the log is synced first.
OrError<void> settle_log(SqliteFile& file);

/// One row of `entries`: an entry's bytes, and what was read from them or noted at arrival.
struct EntryRow {
  EntryOrder order;
  std::int64_t received_ms = 0;
  EventDoubt doubt = EventDoubt::kCredible;
  std::string_view bytes;
  std::uint32_t checksum = 0;
};

/// CRC-32 over the bytes and all other columns, so that a flipped bit in any of them shows.
std::uint32_t checksum_of(const EntryRow& row);

/// What `entry_at` reads, in its order: for SELECT lists.
constexpr const char* kEntryColumns =
    "wall_ms, counter, device, sequence, received_ms, doubt, bytes, checksum";
constexpr int kEntryColumnCount = 8;

/// The row that a statement over kEntryColumns stands on; `bytes` is valid until its next step.
EntryRow entry_at(const Statement& statement);

/// A statement for `insert_entry`.
OrError<Statement> prepare_insert(SqliteFile& file);
/// Adds the row with its right checksum; whether it was new by (device, sequence).
OrError<bool> insert_entry(SqliteFile& file, Statement& insert, const EntryRow& row);

/// The clock as of the last commit, by whichever process. The statement is one of
/// `prepare_read_clock`, and rests when this returns.
OrError<Statement> prepare_read_clock(SqliteFile& file);
OrError<HybridClock> stored_clock(SqliteFile& file, Statement& read);
OrError<HybridClock> stored_clock(SqliteFile& file);

OrError<Statement> prepare_store_clock(SqliteFile& file);
OrError<void> store_clock(Statement& store, const HybridClock& clock);
OrError<void> store_clock(SqliteFile& file, const HybridClock& clock);

}  // namespace chipfall
