#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <tuple>

#include "core/ledger/view_read.h"
#include "core/ledger/view_tables.h"
#include "core/ledger/views.h"

/// Duties as they stand (views.h says by which rules).
namespace chipfall {

namespace {

constexpr std::int64_t kNever = std::numeric_limits<std::int64_t>::min();

constexpr const char* kDutyColumns =
    "session_device, session_sequence, id, place, since_ms, ending, ended_ms, ending_arrival";

struct DutyRow {
  EntryRef session;  ///< device empty: the building's
  std::string id;
  std::int64_t place = -1;
  std::int64_t since_ms = 0;
  EndingCode ending = EndingCode::kNone;
  std::int64_t ended_ms = 0;
  std::int64_t ending_arrival = 0;
};

std::int64_t since_of(const DutyRow& row) { return row.place < 0 ? row.ended_ms : row.since_ms; }

/// Oldest first, then session by session as listed; what no list told comes last.
auto place_of(const DutyRow& row) {
  return std::tuple<std::int64_t, const EntryRef&, bool, std::int64_t, const std::string&>(
      since_of(row), row.session, row.place < 0, row.place, row.id);
}

DutyRow duty_at(const Statement& statement) {
  DutyRow row;
  row.session = {std::string(statement.bytes(0)), static_cast<std::uint64_t>(statement.number(1))};
  row.id = statement.bytes(2);
  row.place = statement.number(3);
  row.since_ms = statement.number(4);
  row.ending = static_cast<EndingCode>(statement.number(5));
  row.ended_ms = statement.number(6);
  row.ending_arrival = statement.number(7);
  return row;
}

OrError<std::vector<DutyRow>> duties_at(Statement& statement) {
  std::vector<DutyRow> rows;
  while (true) {
    const auto row = statement.step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) break;
    rows.push_back(duty_at(statement));
  }
  statement.reset();
  return rows;
}

DutyEnding ending_of(EndingCode code) {
  switch (code) {
    case EndingCode::kDone:
      return DutyEnding::kDone;
    case EndingCode::kPassedOn:
      return DutyEnding::kPassedOn;
    case EndingCode::kNotNeeded:
      return DutyEnding::kNotNeeded;
    default:
      return DutyEnding::kOpen;
  }
}

std::string reason_of(const proto::Entry& entry) {
  switch (entry.payload_case()) {
    case proto::Entry::kDutyPassedOn:
      return entry.duty_passed_on().reason();
    case proto::Entry::kDutyNotNeeded:
      return entry.duty_not_needed().reason();
    case proto::Entry::kDutyReopened:
      return entry.duty_reopened().reason();
    default:
      return "";
  }
}

/// The row with what its entries say.
OrError<StandingDuty> standing_of(const DutyRow& row, EntryLookup& reader) {
  StandingDuty duty;
  duty.owed.set_id(row.id);
  duty.since_ms = since_of(row);
  duty.ending = ending_of(row.ending);
  if (!row.session.device.empty()) {
    duty.session = row.session;
    if (row.place >= 0) {
      auto owed = reader.owed(row.session, row.id);
      if (!owed) return tl::unexpected(owed.error());
      if (*owed) duty.owed = std::move(**owed);
    }
  }
  if (row.ending != EndingCode::kNone) {
    const auto by = reader.at(row.ending_arrival);
    if (!by) return tl::unexpected(by.error());
    duty.reason = reason_of(by->entry);
    duty.by = by->told;
  }
  return duty;
}

/// When duties of one id were done last; kNever for not.
struct LastDone {
  std::int64_t of_sessions_ms = kNever;  ///< or as the standing word on one of the building
  std::int64_t of_building_ms = kNever;  ///< in any of its evenings
  std::int64_t emptied_ms = kNever;
};

class StandingDuties {
 public:
  static OrError<StandingDuties> prepare(SqliteFile& file) {
    const std::string standing = "FROM view_duties WHERE ending IN (0, 2, 4) AND";
    const std::string sql[] = {fmt::format("SELECT id {} id >= ?1 ORDER BY id LIMIT 1", standing),
                               fmt::format("SELECT id {} id > ?1 ORDER BY id LIMIT 1", standing),
                               fmt::format("SELECT {} {} id = ?1 AND max(since_ms, ended_ms) >= ?2",
                                           kDutyColumns, standing),
                               "SELECT ended_ms FROM view_duties WHERE ending = 1 AND id = ?1"
                               " ORDER BY ended_ms DESC LIMIT 1",
                               "SELECT ending, at_ms FROM view_building WHERE id = ?1"
                               " ORDER BY wall_ms, counter, device, sequence"};
    StandingDuties duties;
    for (const std::string& text : sql) {
      auto statement = Statement::prepare(file, text, "read the duties that stand");
      if (!statement) return tl::unexpected(statement.error());
      duties.statements_.push_back(std::move(*statement));
    }
    return duties;
  }

  OrError<std::vector<DutyRow>> rows() {
    std::vector<DutyRow> standing;
    std::string id;
    for (bool first = true;; first = false) {
      const auto more = next_id(id, first);
      if (!more) return tl::unexpected(more.error());
      if (!*more) return standing;
      const auto last = last_done(id);
      if (!last) return tl::unexpected(last.error());
      const std::int64_t of_all = std::max(last->of_sessions_ms, last->emptied_ms);
      const auto found = duties_at(statements_[2].bind_bytes(1, id).bind(2, of_all));
      if (!found) return tl::unexpected(found.error());
      for (const DutyRow& row : *found) {
        // A duty of the building has its own verdict; only others' can settle it.
        const bool settled = !row.session.device.empty() &&
                             last->of_building_ms > std::max(row.since_ms, row.ended_ms);
        if (!settled) standing.push_back(row);
      }
    }
  }

 private:
  OrError<bool> next_id(std::string& id, bool first) {
    Statement& statement = statements_[first ? 0 : 1];
    const auto row = statement.bind_bytes(1, id).step();
    if (!row) return tl::unexpected(row.error());
    const std::string found(*row ? statement.bytes(0) : std::string_view());
    statement.reset();
    id = found;
    return *row;
  }

  OrError<LastDone> last_done(const std::string& id) {
    LastDone last;
    Statement& of_sessions = statements_[3];
    const auto row = of_sessions.bind_bytes(1, id).step();
    if (!row) return tl::unexpected(row.error());
    if (*row) last.of_sessions_ms = of_sessions.number(0);
    of_sessions.reset();

    Statement& of_building = statements_[4];
    of_building.bind_bytes(1, id);
    std::int64_t done_ms = kNever;  // not yet known not to be taken back
    while (true) {
      const auto next = of_building.step();
      if (!next) return tl::unexpected(next.error());
      if (!*next) break;
      const auto ending = static_cast<EndingCode>(of_building.number(0));
      const std::int64_t at_ms = of_building.number(1);
      if (ending == EndingCode::kEmptied) {
        last.emptied_ms = std::max(last.emptied_ms, at_ms);
        continue;
      }
      if (ending != EndingCode::kReopened) {
        last.of_building_ms = std::max(last.of_building_ms, done_ms);
      }
      done_ms = ending == EndingCode::kDone ? at_ms : kNever;
    }
    last.of_building_ms = std::max(last.of_building_ms, done_ms);
    of_building.reset();
    return last;
  }

  std::vector<Statement> statements_;
};

/// Rows in their order with what their entries say.
OrError<std::vector<StandingDuty>> with_entries(SqliteFile& file,
                                                const std::vector<DutyRow>& rows) {
  auto reader = EntryLookup::prepare(file);
  if (!reader) return tl::unexpected(reader.error());
  std::vector<StandingDuty> duties;
  for (const DutyRow& row : rows) {
    auto duty = standing_of(row, *reader);
    if (!duty) return tl::unexpected(duty.error());
    duties.push_back(std::move(*duty));
  }
  return duties;
}

}  // namespace

OrError<std::vector<StandingDuty>> Views::standing() {
  const auto moment = ReadMoment::begin(store_->file());
  if (!moment) return tl::unexpected(moment.error());
  auto duties = StandingDuties::prepare(store_->file());
  if (!duties) return tl::unexpected(duties.error());
  auto rows = duties->rows();
  if (!rows) return tl::unexpected(rows.error());
  std::ranges::sort(*rows,
                    [](const DutyRow& a, const DutyRow& b) { return place_of(a) < place_of(b); });
  return with_entries(store_->file(), *rows);
}

OrError<std::vector<StandingDuty>> Views::list_of(const EntryRef& session) {
  const auto moment = ReadMoment::begin(store_->file());
  if (!moment) return tl::unexpected(moment.error());
  auto statement = Statement::prepare(
      store_->file(),
      fmt::format("SELECT {} FROM view_duties WHERE session_device = ?1 AND session_sequence = ?2"
                  " ORDER BY place < 0, place, id",
                  kDutyColumns),
      "read the list of a session");
  if (!statement) return tl::unexpected(statement.error());
  const auto rows = duties_at(statement->bind_bytes(1, session.device)
                                  .bind(2, static_cast<std::int64_t>(session.sequence)));
  if (!rows) return tl::unexpected(rows.error());
  return with_entries(store_->file(), *rows);
}

}  // namespace chipfall
