#include "core/ledger/view_read.h"

#include <fmt/format.h>
#include <sqlite3.h>

#include <tuple>

#include "core/ledger/schema.h"

namespace chipfall {

namespace {

/// Sessions whose lists are kept at hand; duties done at about the same time are of few.
constexpr std::size_t kMostListsKept = 64;

Error not_here(SqliteFile& file) {
  return file.refusal(ErrorCode::kUnreadable,
                      "the views do not fit the ledger's entries; rebuild them, or close the "
                      "ledger and open it again");
}

}  // namespace

OrError<ReadMoment> ReadMoment::begin(SqliteFile& file) {
  const auto begun = file.run("BEGIN");
  if (!begun) return tl::unexpected(begun.error());
  return ReadMoment(file);
}

ReadMoment::~ReadMoment() {
  if (file_ && !sqlite3_get_autocommit(file_->get())) {
    sqlite3_exec(file_->get(), "COMMIT", nullptr, nullptr, nullptr);
  }
}

OrError<FoldedEntry> folded_at(SqliteFile& file, const Statement& statement) {
  const EntryRow row = entry_at(statement);
  FoldedEntry folded;
  const bool sound = checksum_of(row) == row.checksum;
  if (!sound ||
      !folded.entry.ParseFromArray(row.bytes.data(), static_cast<int>(row.bytes.size()))) {
    return tl::unexpected(file.refusal(
        ErrorCode::kUnreadable,
        fmt::format("an entry (arrival {}) is damaged; keep the file and salvage what can be read "
                    "into a new one",
                    statement.number(kEntryColumnCount))));
  }
  folded.arrival = statement.number(kEntryColumnCount);
  folded.order = row.order;
  folded.told = {{row.order.device, row.order.sequence},
                 statement.number(kEntryColumnCount + 1),
                 statement.number(kEntryColumnCount + 2) != 0,
                 folded.entry.member()};
  return folded;
}

bool earlier(const Told& a, const Told& b) {
  return std::tie(a.at_ms, a.entry) < std::tie(b.at_ms, b.entry);
}

EntryLookup::EntryLookup(SqliteFile& file, Statement by_arrival, Statement by_name)
    : file_(&file), by_arrival_(std::move(by_arrival)), by_name_(std::move(by_name)) {}

OrError<EntryLookup> EntryLookup::prepare(SqliteFile& file) {
  const auto reading = [&](const char* where) {
    return Statement::prepare(file,
                              fmt::format("SELECT {} FROM entries CROSS JOIN view_facts"
                                          " ON view_facts.arrival = entries.arrival WHERE {}",
                                          kFoldedColumns, where),
                              "read an entry");
  };
  auto by_arrival = reading("entries.arrival = ?1");
  if (!by_arrival) return tl::unexpected(by_arrival.error());
  auto by_name = reading("device = ?1 AND sequence = ?2");
  if (!by_name) return tl::unexpected(by_name.error());
  return EntryLookup(file, std::move(*by_arrival), std::move(*by_name));
}

OrError<FoldedEntry> EntryLookup::at(std::int64_t arrival) {
  const auto row = by_arrival_.bind(1, arrival).step();
  if (!row) return tl::unexpected(row.error());
  OrError<FoldedEntry> read =
      *row ? folded_at(*file_, by_arrival_) : tl::unexpected(not_here(*file_));
  by_arrival_.reset();
  return read;
}

OrError<std::optional<FoldedEntry>> EntryLookup::named(const EntryRef& entry) {
  const auto row = by_name_.bind_bytes(1, entry.device)
                       .bind(2, static_cast<std::int64_t>(entry.sequence))
                       .step();
  if (!row) return tl::unexpected(row.error());
  std::optional<FoldedEntry> found;
  if (*row) {
    auto read = folded_at(*file_, by_name_);
    if (!read) return tl::unexpected(read.error());
    found = *std::move(read);
  }
  by_name_.reset();
  return found;
}

OrError<EntryLookup::Lists::const_iterator> EntryLookup::list(const EntryRef& session) {
  const auto known = lists_.find(session);
  if (known != lists_.end()) return known;
  const auto read = named(session);
  if (!read) return tl::unexpected(read.error());
  std::map<std::string, proto::DutyOwed> list;
  if (*read) {
    // An id twice in a list is one duty, the first.
    for (const auto& owed : (*read)->entry.session_ended().owed()) {
      list.try_emplace(owed.id(), owed);
    }
  }
  if (lists_.size() >= kMostListsKept) lists_.clear();
  return lists_.emplace(session, std::move(list)).first;
}

OrError<std::optional<proto::DutyOwed>> EntryLookup::owed(const EntryRef& session,
                                                          const std::string& id) {
  std::optional<proto::DutyOwed> found;
  const auto listed = list(session);
  if (!listed) return tl::unexpected(listed.error());
  const auto at = (*listed)->second.find(id);
  if (at != (*listed)->second.end()) found = at->second;
  return found;
}

}  // namespace chipfall
