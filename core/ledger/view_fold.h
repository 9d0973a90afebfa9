#pragma once

#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "core/ledger/corrected_time.h"
#include "core/ledger/sqlite.h"
#include "core/ledger/store.h"

/// Folding entries into the tables of the views (view_tables.h).
namespace chipfall {

/// An entry as it is folded.
struct ArrivedEntry {
  std::int64_t arrival = 0;
  EntryOrder order;
  proto::Entry entry;
  bool readable = false;
};

ArrivedEntry arrived(std::int64_t arrival, const EntryOrder& order, std::string_view bytes);

/// Folds entries, inside a transaction of the caller's.
///
/// Every row is an upsert that says the same however often and in whatever order it is told: one
/// row for each fact, and for a verdict the one with the greatest (clock, device, sequence). So an
/// entry whose time is corrected anew is simply folded again.
class ViewFold {
 public:
  static OrError<ViewFold> prepare(SqliteFile& file);

  /// Folds what arrived after `position`, clock measurements first; then folds again those up to
  /// `position` for which one of the measurements holds.
  OrError<void> add(const std::vector<ArrivedEntry>& entries, std::int64_t position);

 private:
  ViewFold() = default;

  struct Ending;
  OrError<const ClockMeasurements*> clock_of(const std::string& device);
  OrError<void> add_measurement(const ArrivedEntry& entry);
  OrError<void> fold(const ArrivedEntry& entry);
  OrError<void> fold_again(const std::string& device, MeasuredRange range, std::int64_t position);
  OrError<void> fold_payload(const ArrivedEntry& entry, std::int64_t at_ms);
  OrError<void> add_session(const ArrivedEntry& entry, std::int64_t at_ms);
  OrError<void> add_ending(const ArrivedEntry& entry, std::int64_t at_ms, const Ending& ending);
  OrError<void> add_building(const ArrivedEntry& entry, std::int64_t at_ms, std::string_view id,
                             std::int64_t ending);
  OrError<void> add_latest(const ArrivedEntry& entry, std::int64_t kind, std::string_view about);
  OrError<void> add_back(const ArrivedEntry& entry);

  SqliteFile* file_ = nullptr;
  std::map<std::string, ClockMeasurements> clocks_;  ///< of the devices met so far
  std::vector<Statement> statements_;
};

}  // namespace chipfall
