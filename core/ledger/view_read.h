#pragma once

#include <map>
#include <optional>
#include <string>
#include <utility>

#include "core/ledger/sqlite.h"
#include "core/ledger/views.h"

/// Reading folded entries back, for the questions that views.h answers.
namespace chipfall {

/// One reading of several statements, all of the same moment. Ends when it goes.
class ReadMoment {
 public:
  static OrError<ReadMoment> begin(SqliteFile& file);
  ReadMoment(ReadMoment&& other) noexcept : file_(std::exchange(other.file_, nullptr)) {}
  ReadMoment& operator=(ReadMoment&&) = delete;
  ~ReadMoment();

 private:
  explicit ReadMoment(SqliteFile& file) : file_(&file) {}
  SqliteFile* file_;
};

/// An entry and the time it was given.
struct FoldedEntry {
  std::int64_t arrival = 0;
  EntryOrder order;
  Told told;
  proto::Entry entry;
};

/// For SELECT lists over entries joined with view_facts; `folded_at` reads them.
constexpr const char* kFoldedColumns =
    "wall_ms, counter, device, sequence, received_ms, doubt, bytes, checksum, entries.arrival, "
    "at_ms, doubtful";

/// The entry that a statement over kFoldedColumns stands on; an error where it is damaged.
OrError<FoldedEntry> folded_at(SqliteFile& file, const Statement& statement);

/// By time, then name.
bool earlier(const Told& a, const Told& b);

/// Entries one by one.
class EntryLookup {
 public:
  static OrError<EntryLookup> prepare(SqliteFile& file);

  /// An error where there is none, since a view's row points to it.
  OrError<FoldedEntry> at(std::int64_t arrival);
  /// Nothing where no such entry is here.
  OrError<std::optional<FoldedEntry>> named(const EntryRef& entry);
  /// What the session listed; nothing where no such session is here, or it did not list that.
  OrError<std::optional<proto::DutyOwed>> owed(const EntryRef& session, const std::string& id);

 private:
  using Lists = std::map<EntryRef, std::map<std::string, proto::DutyOwed>>;

  EntryLookup(SqliteFile& file, Statement by_arrival, Statement by_name);
  OrError<Lists::const_iterator> list(const EntryRef& session);

  SqliteFile* file_;
  Statement by_arrival_;
  Statement by_name_;
  Lists lists_;  ///< the sessions read last
};

}  // namespace chipfall
