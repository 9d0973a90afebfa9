#pragma once

#include <cstdint>
#include <string_view>

#include "core/ledger/sqlite.h"

/// The tables of one shop's file at the hub, how older ones come forward, and the settings that
/// they run under.
namespace chipfall {

constexpr std::int64_t kHubApplicationId = 0x43485542;  ///< "CHUB", in the file's header
constexpr std::int64_t kHubVersion = 1;                 ///< of the tables; goes up only

/// A log (WAL) longer than this is folded into the file after a commit, and cut back.
constexpr std::int64_t kWalPages = 4'000;  ///< of 4 KiB: 16 MiB, about a second of full load [c.p.]

/// Refuses files of other programs and of newer versions; changes nothing.
OrError<void> check_hub_identity(SqliteFile& file);

/// WAL, synchronous=FULL, foreign keys, at most so many pages (0: SQLite's limit), read back.
OrError<void> apply_hub_settings(SqliteFile& file, std::int64_t most_pages);

/// Brings the tables to kHubVersion in one transaction.
OrError<void> migrate_hub(SqliteFile& file);

/// CRC-32 over an entry's bytes and everything that is kept beside them.
std::uint32_t hub_checksum(std::uint64_t position, std::string_view device, std::uint64_t sequence,
                           std::int64_t received_ms, std::string_view bytes);

}  // namespace chipfall
