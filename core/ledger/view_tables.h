#pragma once

#include <cstdint>
#include <string>

#include "core/ledger/sqlite.h"

/// The tables of the views, in the ledger's own file beside its entries.
///
/// They can be thrown away at any time, so they have no migration: where they are not exactly what
/// this program makes (another fold version, a table or index missing or altered, a position that
/// the entries do not reach), they are dropped and made anew. All names begin with "view_".
///
/// Rows point to entries by arrival. That is the only thing of this file alone in them: nothing
/// is compared by it, sorted by it or shown.
namespace chipfall {

/// Goes up whenever the same entries would be folded into other rows.
constexpr std::int64_t kFoldVersion = 1;

/// How a duty ended, as rows say it. The values are stored.
enum class EndingCode : std::int64_t {
  kNone = 0,
  kDone = 1,
  kPassedOn = 2,
  kNotNeeded = 3,
  kReopened = 4,
  kEmptied = 5,  ///< a bin-emptied entry, which says what a done duty "empty-bin:..." says
};

/// Values of `kind` in view_facts: the payload's field number, and this for one that this program
/// does not know or cannot read.
constexpr std::int64_t kUnknownKind = 0;

/// Duties "empty-bin:<bin>" empty that bin.
constexpr const char* kEmptyBinPrefix = "empty-bin:";

/// Whether the tables are there and of this program's making, and fit the entries.
OrError<bool> view_tables_fit(SqliteFile& file);

/// Drops what views there are and makes empty ones, in one transaction.
OrError<void> make_view_tables(SqliteFile& file);

/// Below every position: entries that were folded have changed (core/ledger/rename.h).
constexpr std::int64_t kViewsOutdated = -1;

/// The arrival up to which entries are folded, or kViewsOutdated.
OrError<std::int64_t> view_position(SqliteFile& file);
OrError<void> store_view_position(SqliteFile& file, std::int64_t arrival);

/// In the transaction that changes folded entries: whoever reads views next makes them anew, also
/// after a crash right behind it.
OrError<void> outdate_views(SqliteFile& file);

}  // namespace chipfall
