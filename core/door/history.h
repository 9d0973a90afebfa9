#pragma once

#include "core/door/draft.h"
#include "core/ledger/store.h"

/// The ledger as people read it.
namespace chipfall {

inline constexpr int kUsualLines = 50;  ///< a screen or three
inline constexpr int kMostLines = 500;  ///< one answer; older ones by another page
/// Two years of a busy shop; longer spans are exported piece by piece.
inline constexpr int kMostExportRows = 100'000;

/// A page, newest first in the ledger's order; a page costs its own length, not the ledger's. Days
/// and times are those of the shop, UTC where there is no sheet. Damaged entries end it with an
/// error that names them.
OrError<proto::History> read_history(LedgerStore& store, const OpenShop* open,
                                     const proto::ReadHistory& asked, std::int64_t now_ms);

/// The housekeeping record as CSV (RFC 4180: CRLF, quotes doubled, a line of names first), one row
/// for each entry, oldest first by when it happened. Columns: local_time (RFC 3339 with offset),
/// utc, what, place, minutes, people, reason, time_doubtful, and `member` only where asked. Without
/// names of members the names of sessions are left out too; what people wrote in notes and reasons
/// stays. A text that a spreadsheet would take for a formula gets an apostrophe before it.
/// An entry whose claimed time cannot be stands at the time by its own clock, and says so.
OrError<proto::Exported> export_record(LedgerStore& store, const OpenShop* open,
                                       const proto::ExportRecord& asked);

}  // namespace chipfall
