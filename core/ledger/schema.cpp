#include "core/ledger/schema.h"

#include <fmt/format.h>
#include <sqlite3.h>

#include <array>
#include <boost/crc.hpp>

namespace chipfall {

namespace {

/// Never change a step that was released: add the next.
constexpr std::array<const char*, kLedgerVersion> kSteps = {
    // Arrivals count from 1 without gaps, since nothing is deleted: salvage counts losses by them.
    "CREATE TABLE self (one INTEGER PRIMARY KEY CHECK (one = 1), device BLOB NOT NULL,"
    "  wall_ms INTEGER NOT NULL, counter INTEGER NOT NULL, epoch BLOB NOT NULL) STRICT;"
    "CREATE TABLE entries (arrival INTEGER PRIMARY KEY, device BLOB NOT NULL,"
    "  sequence INTEGER NOT NULL CHECK (sequence > 0), wall_ms INTEGER NOT NULL,"
    "  counter INTEGER NOT NULL, received_ms INTEGER NOT NULL, doubt INTEGER NOT NULL,"
    "  bytes BLOB NOT NULL, checksum INTEGER NOT NULL, UNIQUE (device, sequence)) STRICT;"
    "CREATE INDEX entries_in_order ON entries (wall_ms, counter, device, sequence);",
};

/// A WAL longer than this is cut back at the next checkpoint.
constexpr int kMostIdleWalBytes = 4 * 1024 * 1024;

OrError<void> name_owner(SqliteFile& file, const std::string& device) {
  auto statement = Statement::prepare(file, "INSERT INTO self VALUES (1, ?1, 0, 0, x'')",
                                      "write the device into the new ledger");
  if (!statement) return tl::unexpected(statement.error());
  return statement->bind_bytes(1, device).finish();
}

}  // namespace

OrError<LedgerSettings> read_settings(SqliteFile& file) {
  LedgerSettings read;
  const auto mode = file.text_of("PRAGMA journal_mode");
  if (!mode) return tl::unexpected(mode.error());
  read.journal_mode = *mode;
  const std::pair<const char*, std::int64_t*> numbers[] = {
      {"PRAGMA synchronous", &read.synchronous},
      {"PRAGMA busy_timeout", &read.busy_ms},
      {"PRAGMA application_id", &read.application_id},
      {"PRAGMA user_version", &read.version}};
  for (const auto& [pragma, to] : numbers) {
    const auto number = file.number_of(pragma);
    if (!number) return tl::unexpected(number.error());
    *to = *number;
  }
  return read;
}

OrError<void> check_identity(SqliteFile& file, const FileKind& kind) {
  const auto application = file.number_of("PRAGMA application_id");
  if (!application) return tl::unexpected(application.error());
  const auto version = file.number_of("PRAGMA user_version");
  if (!version) return tl::unexpected(version.error());
  const auto tables = file.number_of("SELECT count(*) FROM sqlite_schema");
  if (!tables) return tl::unexpected(tables.error());
  if (*application == 0 && *version == 0 && *tables == 0) return {};  // new
  if (*application != kind.application_id) {
    return tl::unexpected(file.refusal(ErrorCode::kUnknown, kind.of_another));
  }
  if (*version > kind.version) {
    return tl::unexpected(file.refusal(
        ErrorCode::kUnknown, fmt::format("{} (tables {}, this program knows {}); nothing was "
                                         "changed: update this program, then {}",
                                         kind.newer, *version, kind.version, kind.once_updated)));
  }
  return {};
}

OrError<void> check_ledger_identity(SqliteFile& file) {
  return check_identity(file, {kLedgerApplicationId, kLedgerVersion,
                               "this file belongs to another program; choose another one",
                               "this ledger was written by a newer Chipfall", "open it again"});
}

OrError<void> quick_check(SqliteFile& file) {
  const auto verdict = file.text_of("PRAGMA quick_check(1)");
  if (!verdict) return tl::unexpected(verdict.error());
  if (*verdict == "ok") return {};
  return tl::unexpected(file.refusal(
      ErrorCode::kUnreadable, "the ledger is damaged: " + *verdict +
                                  "; keep the file and salvage what can be read into a new one"));
}

OrError<void> apply_settings(SqliteFile& file, std::int64_t most_pages) {
  if (sqlite3_db_readonly(file.get(), "main") == 1) {
    return tl::unexpected(
        file.refusal(ErrorCode::kUnreadable,
                     "the ledger may only be read; allow writing to it and to its folder"));
  }
  const auto applied =
      file.run(fmt::format("PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;"
                           "PRAGMA journal_size_limit = {};",
                           kMostIdleWalBytes));
  if (!applied) return applied;
  if (most_pages > 0) {
    const auto limited = file.run(fmt::format("PRAGMA max_page_count = {}", most_pages));
    if (!limited) return limited;
  }
  const auto read = read_settings(file);
  if (!read) return tl::unexpected(read.error());
  if (read->journal_mode == "wal" && read->synchronous == 2) return {};
  return tl::unexpected(file.refusal(
      ErrorCode::kUnreadable,
      fmt::format("this disk does not let the ledger write safely (journal {}, synchronous {}); "
                  "keep it on a local disk",
                  read->journal_mode, read->synchronous)));
}

LedgerSteps ledger_steps() { return kSteps; }

OrError<void> migrate(SqliteFile& file, const std::string& device, LedgerSteps steps) {
  const auto newest = static_cast<std::int64_t>(steps.size());
  auto transaction = WriteTransaction::begin(file);
  if (!transaction) return tl::unexpected(transaction.error());
  // Asked inside the transaction: another process may just have done it.
  const auto version = file.number_of("PRAGMA user_version");
  if (!version) return tl::unexpected(version.error());
  if (*version >= newest) return {};
  for (std::int64_t step = *version; step < newest; ++step) {
    const auto done = file.run(steps[static_cast<std::size_t>(step)]);
    if (!done) return done;
  }
  if (*version == 0) {
    const auto named = name_owner(file, device);
    if (!named) return named;
  }
  const auto stamped = file.run(fmt::format("PRAGMA application_id = {}; PRAGMA user_version = {};",
                                            kLedgerApplicationId, newest));
  if (!stamped) return stamped;
  return transaction->commit();
}

OrError<void> settle_log(SqliteFile& file) {
  const int result =
      sqlite3_wal_checkpoint_v2(file.get(), "main", SQLITE_CHECKPOINT_PASSIVE, nullptr, nullptr);
  if (result == SQLITE_OK || result == SQLITE_BUSY || result == SQLITE_FULL) return {};
  return tl::unexpected(file.complaint("put the ledger's log on disk"));
}

std::uint32_t checksum_of(const EntryRow& row) {
  boost::crc_32_type crc;
  const auto add_number = [&](std::uint64_t value) {
    for (int byte = 0; byte < 8; ++byte) {  // little-endian on every machine
      crc.process_byte(static_cast<unsigned char>(value >> (8 * byte)));
    }
  };
  add_number(static_cast<std::uint64_t>(row.order.clock.wall_ms));
  add_number(row.order.clock.counter);
  add_number(row.order.device.size());
  crc.process_bytes(row.order.device.data(), row.order.device.size());
  add_number(row.order.sequence);
  add_number(static_cast<std::uint64_t>(row.received_ms));
  add_number(static_cast<std::uint64_t>(row.doubt));
  crc.process_bytes(row.bytes.data(), row.bytes.size());
  return crc.checksum();
}

EntryRow entry_at(const Statement& statement) {
  EntryRow row;
  row.order.clock.wall_ms = statement.number(0);
  row.order.clock.counter = static_cast<std::uint32_t>(statement.number(1));
  row.order.device = statement.bytes(2);
  row.order.sequence = static_cast<std::uint64_t>(statement.number(3));
  row.received_ms = statement.number(4);
  row.doubt = static_cast<EventDoubt>(statement.number(5));
  row.bytes = statement.bytes(6);
  row.checksum = static_cast<std::uint32_t>(statement.number(7));
  return row;
}

OrError<Statement> prepare_insert(SqliteFile& file) {
  return Statement::prepare(
      file,
      "INSERT INTO entries (wall_ms, counter, device, sequence, received_ms, doubt, bytes, "
      "checksum)"
      " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8) ON CONFLICT (device, sequence) DO NOTHING",
      "save an entry");
}

OrError<bool> insert_entry(SqliteFile& file, Statement& insert, const EntryRow& row) {
  const auto inserted = insert.bind(1, row.order.clock.wall_ms)
                            .bind(2, row.order.clock.counter)
                            .bind_bytes(3, row.order.device)
                            .bind(4, static_cast<std::int64_t>(row.order.sequence))
                            .bind(5, row.received_ms)
                            .bind(6, static_cast<std::int64_t>(row.doubt))
                            .bind_bytes(7, row.bytes)
                            .bind(8, checksum_of(row))
                            .finish();
  if (!inserted) return tl::unexpected(inserted.error());
  return sqlite3_changes(file.get()) == 1;
}

OrError<Statement> prepare_read_clock(SqliteFile& file) {
  return Statement::prepare(file, "SELECT wall_ms, counter FROM self", "read the ledger's clock");
}

OrError<HybridClock> stored_clock(SqliteFile& file, Statement& read) {
  const auto row = read.step();
  if (!row) {
    read.reset();
    return tl::unexpected(row.error());
  }
  const HybridTime last{read.number(0), static_cast<std::uint32_t>(read.number(1))};
  read.reset();
  if (*row) return HybridClock(last);
  return tl::unexpected(file.refusal(
      ErrorCode::kUnreadable,
      "the ledger has lost its own clock; keep the file and salvage it into a new one"));
}

OrError<HybridClock> stored_clock(SqliteFile& file) {
  auto read = prepare_read_clock(file);
  if (!read) return tl::unexpected(read.error());
  return stored_clock(file, *read);
}

OrError<Statement> prepare_store_clock(SqliteFile& file) {
  return Statement::prepare(file, "UPDATE self SET wall_ms = ?1, counter = ?2",
                            "save the ledger's clock");
}

OrError<void> store_clock(Statement& store, const HybridClock& clock) {
  return store.bind(1, clock.last().wall_ms).bind(2, clock.last().counter).finish();
}

OrError<void> store_clock(SqliteFile& file, const HybridClock& clock) {
  auto store = prepare_store_clock(file);
  if (!store) return tl::unexpected(store.error());
  return store_clock(*store, clock);
}

}  // namespace chipfall
