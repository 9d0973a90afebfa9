#include "core/ledger/view_tables.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <vector>

namespace chipfall {

namespace {

/// As sqlite_schema gives them back, so one statement each.
constexpr std::array kTables = {
    "CREATE TABLE view_self (one INTEGER PRIMARY KEY CHECK (one = 1),"
    "  version INTEGER NOT NULL, position INTEGER NOT NULL) STRICT",
    // Every folded entry, with its corrected time.
    "CREATE TABLE view_facts (arrival INTEGER PRIMARY KEY, kind INTEGER NOT NULL,"
    "  at_ms INTEGER NOT NULL, doubtful INTEGER NOT NULL) STRICT",
    "CREATE INDEX view_facts_in_time ON view_facts (kind, at_ms)",
    // What each device said of its clock.
    "CREATE TABLE view_clocks (device BLOB NOT NULL, sequence INTEGER NOT NULL,"
    "  ahead_ms INTEGER NOT NULL, PRIMARY KEY (device, sequence)) STRICT, WITHOUT ROWID",
    // A duty of a session's list or, with no session (x'', 0), of the building, and its latest
    // ending. place: in the list, -1 where the session is not here or never listed it.
    "CREATE TABLE view_duties (session_device BLOB NOT NULL, session_sequence INTEGER NOT NULL,"
    "  id BLOB NOT NULL, place INTEGER NOT NULL, since_ms INTEGER NOT NULL,"
    "  session_arrival INTEGER NOT NULL, ending INTEGER NOT NULL, wall_ms INTEGER NOT NULL,"
    "  counter INTEGER NOT NULL, device BLOB NOT NULL, sequence INTEGER NOT NULL,"
    "  ended_ms INTEGER NOT NULL, ending_arrival INTEGER NOT NULL,"
    "  PRIMARY KEY (session_device, session_sequence, id)) STRICT, WITHOUT ROWID",
    "CREATE INDEX view_duties_standing ON view_duties (id, max(since_ms, ended_ms))"
    "  WHERE ending IN (0, 2, 4)",
    "CREATE INDEX view_duties_done ON view_duties (id, ended_ms) WHERE ending = 1",
    // All endings of the building's duties, which come back every evening, and emptied bins.
    "CREATE TABLE view_building (id BLOB NOT NULL, wall_ms INTEGER NOT NULL,"
    "  counter INTEGER NOT NULL, device BLOB NOT NULL, sequence INTEGER NOT NULL,"
    "  ending INTEGER NOT NULL, at_ms INTEGER NOT NULL, arrival INTEGER NOT NULL,"
    "  PRIMARY KEY (id, wall_ms, counter, device, sequence)) STRICT, WITHOUT ROWID",
    // The latest word on each machine's being out, each supply, and the sheet, by kind.
    "CREATE TABLE view_latest (kind INTEGER NOT NULL, about BLOB NOT NULL,"
    "  wall_ms INTEGER NOT NULL, counter INTEGER NOT NULL, device BLOB NOT NULL,"
    "  sequence INTEGER NOT NULL, arrival INTEGER NOT NULL,"
    "  PRIMARY KEY (kind, about)) STRICT, WITHOUT ROWID",
    "CREATE TABLE view_backs (machine BLOB NOT NULL, wall_ms INTEGER NOT NULL,"
    "  counter INTEGER NOT NULL, device BLOB NOT NULL, sequence INTEGER NOT NULL,"
    "  seen_device BLOB NOT NULL, seen_sequence INTEGER NOT NULL, arrival INTEGER NOT NULL,"
    "  PRIMARY KEY (machine, wall_ms, counter, device, sequence)) STRICT, WITHOUT ROWID",
};

OrError<std::vector<std::string>> texts_of(SqliteFile& file, const char* sql) {
  auto statement = Statement::prepare(file, sql, "read which views there are");
  if (!statement) return tl::unexpected(statement.error());
  std::vector<std::string> texts;
  while (true) {
    const auto row = statement->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return texts;
    texts.emplace_back(statement->bytes(0));
  }
}

}  // namespace

OrError<bool> view_tables_fit(SqliteFile& file) {
  auto found =
      texts_of(file, "SELECT sql FROM sqlite_schema WHERE name GLOB 'view_*' AND sql IS NOT NULL");
  if (!found) return tl::unexpected(found.error());
  std::vector<std::string> made(kTables.begin(), kTables.end());
  std::ranges::sort(made);
  std::ranges::sort(*found);
  if (*found != made) return false;
  // One fact for each folded entry, none lost and none too many; all of them entries of this file.
  const auto fits = file.number_of(fmt::format(
      "SELECT version = {} AND position <= (SELECT ifnull(max(arrival), 0) FROM entries)"
      "  AND position = (SELECT ifnull(max(arrival), 0) FROM view_facts)"
      "  AND position = (SELECT count(*) FROM view_facts) FROM view_self",
      kFoldVersion));
  if (!fits) return tl::unexpected(fits.error());
  return *fits == 1;
}

OrError<void> make_view_tables(SqliteFile& file) {
  auto transaction = WriteTransaction::begin(file);
  if (!transaction) return tl::unexpected(transaction.error());
  const auto old =
      texts_of(file, "SELECT name FROM sqlite_schema WHERE name GLOB 'view_*' AND type = 'table'");
  if (!old) return tl::unexpected(old.error());
  for (const std::string& name : *old) {
    const auto dropped = file.run(fmt::format("DROP TABLE \"{}\"", name));
    if (!dropped) return dropped;
  }
  for (const char* table : kTables) {
    const auto made = file.run(table);
    if (!made) return made;
  }
  const auto begun = file.run(fmt::format("INSERT INTO view_self VALUES (1, {}, 0)", kFoldVersion));
  if (!begun) return begun;
  return transaction->commit();
}

OrError<std::int64_t> view_position(SqliteFile& file) {
  return file.number_of("SELECT position FROM view_self");
}

OrError<void> store_view_position(SqliteFile& file, std::int64_t arrival) {
  return file.run(fmt::format("UPDATE view_self SET position = {}", arrival));
}

OrError<void> outdate_views(SqliteFile& file) {
  const auto there = file.number_of("SELECT count(*) FROM sqlite_schema WHERE name = 'view_self'");
  if (!there) return tl::unexpected(there.error());
  return *there == 0 ? OrError<void>() : store_view_position(file, kViewsOutdated);
}

}  // namespace chipfall
