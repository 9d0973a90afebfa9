#include "sync/hub_tables.h"

#include <fmt/format.h>

#include <array>
#include <boost/crc.hpp>

#include "core/ledger/schema.h"

namespace chipfall {

namespace {

/// Never change a step that was released: add the next.
constexpr std::array<const char*, kHubVersion> kSteps = {
    // `membership` goes up with every change of a device, so that a serving hub sees what another
    // process revoked. Devices' names are numbers in `entries`: the index stays small.
    "CREATE TABLE self (one INTEGER PRIMARY KEY CHECK (one = 1), shop TEXT NOT NULL,"
    "  shop_name TEXT NOT NULL, membership INTEGER NOT NULL) STRICT;"
    "CREATE TABLE epochs (number INTEGER PRIMARY KEY, id BLOB NOT NULL UNIQUE,"
    "  began_after INTEGER NOT NULL CHECK (began_after >= 0)) STRICT;"
    "CREATE TABLE names (name INTEGER PRIMARY KEY, device BLOB NOT NULL UNIQUE) STRICT;"
    "CREATE TABLE entries (position INTEGER PRIMARY KEY, name INTEGER NOT NULL REFERENCES names,"
    "  sequence INTEGER NOT NULL CHECK (sequence > 0), received_ms INTEGER NOT NULL,"
    "  bytes BLOB NOT NULL, checksum INTEGER NOT NULL) STRICT;"
    "CREATE UNIQUE INDEX entries_by_name ON entries (name, sequence);"
    "CREATE TABLE devices (device BLOB PRIMARY KEY, lineage BLOB NOT NULL, verifier BLOB NOT NULL,"
    "  role INTEGER NOT NULL, epoch BLOB NOT NULL, label TEXT NOT NULL, joined_ms INTEGER NOT NULL,"
    "  revoked INTEGER NOT NULL) STRICT, WITHOUT ROWID;"
    "CREATE TABLE join_codes (secret_hash BLOB PRIMARY KEY, role INTEGER NOT NULL,"
    "  expires_ms INTEGER NOT NULL, used_by BLOB NOT NULL) STRICT, WITHOUT ROWID;",
};

}  // namespace

OrError<void> check_hub_identity(SqliteFile& file) {
  return check_identity(file, {kHubApplicationId, kHubVersion,
                               "this is no hub's file but another program's; choose another one",
                               "this file was written by a newer chipfall-hub", "start it again"});
}

OrError<void> apply_hub_settings(SqliteFile& file, std::int64_t most_pages) {
  const auto applied = apply_settings(file, most_pages);
  if (!applied) return applied;
  // The hub's tables refer to each other; those of a device's ledger do not.
  const auto set =
      file.run(fmt::format("PRAGMA foreign_keys = ON; PRAGMA wal_autocheckpoint = {}", kWalPages));
  if (!set) return set;
  const auto keys = file.number_of("PRAGMA foreign_keys");
  if (!keys) return tl::unexpected(keys.error());
  const auto pages = file.number_of("PRAGMA wal_autocheckpoint");
  if (!pages) return tl::unexpected(pages.error());
  if (*keys == 1 && *pages == kWalPages) return {};
  return tl::unexpected(file.refusal(ErrorCode::kUnreadable,
                                     "the file did not take its settings; start the hub again"));
}

OrError<void> migrate_hub(SqliteFile& file) {
  auto transaction = WriteTransaction::begin(file);
  if (!transaction) return tl::unexpected(transaction.error());
  // Asked inside the transaction: another process may just have done it.
  const auto version = file.number_of("PRAGMA user_version");
  if (!version) return tl::unexpected(version.error());
  if (*version >= kHubVersion) return {};
  for (std::int64_t step = *version; step < kHubVersion; ++step) {
    const auto done = file.run(kSteps[static_cast<std::size_t>(step)]);
    if (!done) return done;
  }
  const auto stamped = file.run(fmt::format("PRAGMA application_id = {}; PRAGMA user_version = {};",
                                            kHubApplicationId, kHubVersion));
  if (!stamped) return stamped;
  return transaction->commit();
}

std::uint32_t hub_checksum(std::uint64_t position, std::string_view device, std::uint64_t sequence,
                           std::int64_t received_ms, std::string_view bytes) {
  boost::crc_32_type crc;
  const auto add_number = [&](std::uint64_t value) {
    for (int byte = 0; byte < 8; ++byte) {  // little-endian on every machine
      crc.process_byte(static_cast<unsigned char>(value >> (8 * byte)));
    }
  };
  add_number(position);
  add_number(device.size());
  crc.process_bytes(device.data(), device.size());
  add_number(sequence);
  add_number(static_cast<std::uint64_t>(received_ms));
  crc.process_bytes(bytes.data(), bytes.size());
  return crc.checksum();
}

}  // namespace chipfall
