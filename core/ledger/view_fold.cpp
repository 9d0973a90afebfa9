#include "core/ledger/view_fold.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <limits>
#include <set>
#include <tuple>
#include <utility>

#include "core/ledger/schema.h"
#include "core/ledger/view_tables.h"

namespace chipfall {

namespace {

enum Sql : std::size_t {
  kAddFact,
  kAddDuty,
  kAddBuilding,
  kAddLatest,
  kAddBack,
  kAddClock,
  kReadClocks,
  kReadRange,
  kReadEntry,
  kSqlCount
};

/// Assignments of an upsert into view_duties: what a list says, and what the later ending says.
std::string where_listed(const char* column) {
  return fmt::format("{0} = iif(excluded.place >= 0, excluded.{0}, {0})", column);
}
std::string where_later(const char* column) {
  return fmt::format(
      "{0} = iif((excluded.wall_ms, excluded.counter, excluded.device, excluded.sequence)"
      " >= (view_duties.wall_ms, view_duties.counter, view_duties.device, view_duties.sequence),"
      " excluded.{0}, {0})",
      column);
}

const std::array<std::string, kSqlCount>& texts() {
  static const std::array<std::string, kSqlCount> kTexts = {
      "INSERT INTO view_facts (arrival, kind, at_ms, doubtful) VALUES (?1, ?2, ?3, ?4)"
      " ON CONFLICT (arrival) DO UPDATE SET at_ms = excluded.at_ms, doubtful = excluded.doubtful",

      fmt::format(
          "INSERT INTO view_duties (session_device, session_sequence, id, place, since_ms,"
          " session_arrival, ending, wall_ms, counter, device, sequence, ended_ms, ending_arrival)"
          " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)"
          " ON CONFLICT DO UPDATE SET {}, {}, {}, {}, {}, {}, {}, {}, {}, {}",
          where_listed("place"), where_listed("since_ms"), where_listed("session_arrival"),
          where_later("ending"), where_later("wall_ms"), where_later("counter"),
          where_later("device"), where_later("sequence"), where_later("ended_ms"),
          where_later("ending_arrival")),

      "INSERT INTO view_building (id, wall_ms, counter, device, sequence, ending, at_ms,"
      " arrival) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)"
      " ON CONFLICT DO UPDATE SET at_ms = excluded.at_ms",

      "INSERT INTO view_latest (kind, about, wall_ms, counter, device, sequence, arrival)"
      " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT DO UPDATE SET"
      " wall_ms = excluded.wall_ms, counter = excluded.counter, device = excluded.device,"
      " sequence = excluded.sequence, arrival = excluded.arrival"
      " WHERE (excluded.wall_ms, excluded.counter, excluded.device, excluded.sequence)"
      " > (view_latest.wall_ms, view_latest.counter, view_latest.device, view_latest.sequence)",

      "INSERT INTO view_backs (machine, wall_ms, counter, device, sequence, seen_device,"
      " seen_sequence, arrival) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8) ON CONFLICT DO NOTHING",

      "INSERT INTO view_clocks (device, sequence, ahead_ms) VALUES (?1, ?2, ?3)"
      " ON CONFLICT DO NOTHING",

      "SELECT sequence, ahead_ms FROM view_clocks WHERE device = ?1",

      "SELECT arrival FROM entries WHERE device = ?1 AND sequence > ?2 AND sequence <= ?3"
      " AND arrival <= ?4",

      fmt::format("SELECT {} FROM entries WHERE arrival = ?1", kEntryColumns),
  };
  return kTexts;
}

std::int64_t signed_of(std::uint64_t sequence) { return static_cast<std::int64_t>(sequence); }

/// Binds clock, counter, device and sequence from the parameter `first` on.
Statement& bind_order(Statement& statement, int first, const EntryOrder& order) {
  return statement.bind(first, order.clock.wall_ms)
      .bind(first + 1, order.clock.counter)
      .bind_bytes(first + 2, order.device)
      .bind(first + 3, signed_of(order.sequence));
}

}  // namespace

ArrivedEntry arrived(google::protobuf::Arena& arena, std::int64_t arrival, const EntryOrder& order,
                     std::string_view bytes) {
  auto* const entry = google::protobuf::Arena::CreateMessage<proto::Entry>(&arena);
  const bool readable = entry->ParseFromArray(bytes.data(), static_cast<int>(bytes.size()));
  return {arrival, order, entry, readable};
}

OrError<ViewFold> ViewFold::prepare(SqliteFile& file) {
  ViewFold fold;
  fold.file_ = &file;
  fold.again_arena_ = std::make_unique<google::protobuf::Arena>();
  for (const std::string& text : texts()) {
    auto statement = Statement::prepare(file, text, "fold the entries into the views");
    if (!statement) return tl::unexpected(statement.error());
    fold.statements_.push_back(std::move(*statement));
  }
  return fold;
}

OrError<const ClockMeasurements*> ViewFold::clock_of(const std::string& device) {
  const auto [known, is_new] = clocks_.try_emplace(device);
  if (!is_new) return &known->second;
  Statement& statement = statements_[kReadClocks];
  statement.bind_bytes(1, device);
  while (true) {
    const auto row = statement.step();
    if (!row) {
      clocks_.erase(known);
      return tl::unexpected(row.error());
    }
    if (!*row) break;
    known->second[static_cast<std::uint64_t>(statement.number(0))] = statement.number(1);
  }
  statement.reset();
  return &known->second;
}

OrError<void> ViewFold::add_measurement(const ArrivedEntry& entry) {
  const auto known = clock_of(entry.order.device);
  if (!known) return tl::unexpected(known.error());
  const std::int64_t ahead = entry.entry->clock_measured().ahead_ms();
  clocks_[entry.order.device][entry.order.sequence] = ahead;
  return statements_[kAddClock]
      .bind_bytes(1, entry.order.device)
      .bind(2, signed_of(entry.order.sequence))
      .bind(3, ahead)
      .finish();
}

OrError<void> ViewFold::add(const std::vector<ArrivedEntry>& entries, std::int64_t position) {
  std::vector<const EntryOrder*> measured;
  for (const ArrivedEntry& entry : entries) {
    if (!entry.entry->has_clock_measured()) continue;
    const auto added = add_measurement(entry);
    if (!added) return added;
    measured.push_back(&entry.order);
  }
  for (const ArrivedEntry& entry : entries) {
    const auto folded = fold(entry);
    if (!folded) return folded;
  }
  for (const EntryOrder* order : measured) {
    const MeasuredRange range = range_of(clocks_[order->device], order->sequence);
    const auto again = fold_again(order->device, range, position);
    if (!again) return again;
  }
  return write_duties();
}

OrError<void> ViewFold::fold_again(const std::string& device, MeasuredRange range,
                                   std::int64_t position) {
  constexpr auto kMostSequence = std::uint64_t(std::numeric_limits<std::int64_t>::max());
  Statement& find = statements_[kReadRange];
  find.bind_bytes(1, device)
      .bind(2, signed_of(range.after))
      .bind(3, signed_of(std::min(range.last, kMostSequence)))
      .bind(4, position);
  std::vector<std::int64_t> arrivals;
  while (true) {
    const auto row = find.step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) break;
    arrivals.push_back(find.number(0));
  }
  find.reset();
  for (const std::int64_t arrival : arrivals) {
    Statement& read = statements_[kReadEntry];
    const auto row = read.bind(1, arrival).step();
    if (!row) return tl::unexpected(row.error());
    const EntryRow stored = entry_at(read);
    if (!*row || checksum_of(stored) != stored.checksum) {
      return tl::unexpected(file_->refusal(
          ErrorCode::kUnreadable,
          fmt::format("entry {} of a device whose clock was measured is damaged; keep the file and "
                      "salvage what can be read into a new one",
                      stored.order.sequence)));
    }
    again_.push_back(arrived(*again_arena_, arrival, stored.order, stored.bytes));
    read.reset();
    const auto folded = fold(again_.back());
    if (!folded) return folded;
  }
  return {};
}

OrError<void> ViewFold::fold(const ArrivedEntry& entry) {
  const auto clock = clock_of(entry.order.device);
  if (!clock) return tl::unexpected(clock.error());
  const CorrectedTime time = corrected_time(entry.entry->event_utc_ms(), entry.order.clock.wall_ms,
                                            ahead_ms(**clock, entry.order.sequence));
  const std::int64_t kind =
      entry.readable ? std::int64_t{entry.entry->payload_case()} : kUnknownKind;
  const auto placed = statements_[kAddFact]
                          .bind(1, entry.arrival)
                          .bind(2, kind)
                          .bind(3, time.at_ms)
                          .bind(4, time.doubtful ? 1 : 0)
                          .finish();
  if (!placed || !entry.readable) return placed;
  return fold_payload(entry, time.at_ms);
}

OrError<void> ViewFold::fold_payload(const ArrivedEntry& entry, std::int64_t at_ms) {
  const proto::Entry& e = *entry.entry;
  const auto end = [&](const auto& payload, EndingCode code) {
    return add_ending(entry, at_ms, payload.duty(), static_cast<std::int64_t>(code));
  };
  switch (e.payload_case()) {
    case proto::Entry::kSessionEnded:
      add_session(entry, at_ms);
      return {};
    case proto::Entry::kDutyDone:
      return end(e.duty_done(), EndingCode::kDone);
    case proto::Entry::kDutyPassedOn:
      return end(e.duty_passed_on(), EndingCode::kPassedOn);
    case proto::Entry::kDutyNotNeeded:
      return end(e.duty_not_needed(), EndingCode::kNotNeeded);
    case proto::Entry::kDutyReopened:
      return end(e.duty_reopened(), EndingCode::kReopened);
    case proto::Entry::kBinEmptied:
      return add_building(entry, at_ms, fmt::format("{}{}", kEmptyBinPrefix, e.bin_emptied().bin()),
                          static_cast<std::int64_t>(EndingCode::kEmptied));
    case proto::Entry::kMachineOut:
      return add_latest(entry, proto::Entry::kMachineOut, e.machine_out().machine());
    case proto::Entry::kMachineBack:
      return add_back(entry);
    // Low and restocked are two words on one thing, so the later one stands.
    case proto::Entry::kSupplyLow:
      return add_latest(entry, proto::Entry::kSupplyLow, e.supply_low().supply());
    case proto::Entry::kSupplyRestocked:
      return add_latest(entry, proto::Entry::kSupplyLow, e.supply_restocked().supply());
    case proto::Entry::kSheetRevision:
      return add_latest(entry, proto::Entry::kSheetRevision, "");
    default:
      return {};  // the fact is all
  }
}

void ViewFold::add_session(const ArrivedEntry& entry, std::int64_t at_ms) {
  std::set<std::string_view> listed;  // an id twice in a list is one duty, at its first place
  DutyChange change;
  change.session_device = entry.order.device;
  change.session_sequence = signed_of(entry.order.sequence);
  change.since_ms = at_ms;
  change.session_arrival = entry.arrival;
  for (const proto::DutyOwed& owed : entry.entry->session_ended().owed()) {
    if (!listed.insert(owed.id()).second) continue;
    change.id = owed.id();
    ++change.place;
    duties_.push_back(change);
  }
}

OrError<void> ViewFold::add_ending(const ArrivedEntry& entry, std::int64_t at_ms,
                                   const proto::DutyName& duty, std::int64_t ending) {
  DutyChange change;
  change.id = duty.id();
  change.ending = ending;
  change.order = &entry.order;
  change.ended_ms = at_ms;
  change.ending_arrival = entry.arrival;
  if (!duty.session().device().empty()) {
    change.session_device = duty.session().device();
    change.session_sequence = signed_of(duty.session().sequence());
  }
  duties_.push_back(change);
  if (!change.session_device.empty()) return {};
  return add_building(entry, at_ms, duty.id(), ending);
}

OrError<void> ViewFold::write_duties() {
  const auto key = [](const DutyChange& change) {
    return std::tie(change.session_device, change.session_sequence, change.id);
  };
  std::ranges::stable_sort(duties_, [&](const auto& a, const auto& b) { return key(a) < key(b); });
  for (std::size_t i = 0; i < duties_.size();) {
    DutyChange change = duties_[i];
    for (++i; i < duties_.size() && key(duties_[i]) == key(change); ++i) {
      const DutyChange& next = duties_[i];
      if (next.place >= 0) {
        change.place = next.place;
        change.since_ms = next.since_ms;
        change.session_arrival = next.session_arrival;
      }
      if (next.order && (!change.order || *next.order > *change.order)) {
        change.ending = next.ending;
        change.order = next.order;
        change.ended_ms = next.ended_ms;
        change.ending_arrival = next.ending_arrival;
      }
    }
    const auto written = write_duty(change);
    if (!written) return written;
  }
  duties_.clear();
  again_.clear();
  again_arena_->Reset();
  return {};
}

OrError<void> ViewFold::write_duty(const DutyChange& change) {
  // Before the order of any entry, so that any ending beats none.
  static const EntryOrder kNoEnding{{std::numeric_limits<std::int64_t>::min(), 0}, "", 0};
  Statement& add = statements_[kAddDuty];
  add.bind_bytes(1, change.session_device)
      .bind(2, change.session_sequence)
      .bind_bytes(3, change.id)
      .bind(4, change.place)
      .bind(5, change.since_ms)
      .bind(6, change.session_arrival)
      .bind(7, change.ending);
  return bind_order(add, 8, change.order ? *change.order : kNoEnding)
      .bind(12, change.ended_ms)
      .bind(13, change.ending_arrival)
      .finish();
}

OrError<void> ViewFold::add_building(const ArrivedEntry& entry, std::int64_t at_ms,
                                     std::string_view id, std::int64_t ending) {
  Statement& add = statements_[kAddBuilding];
  add.bind_bytes(1, id);
  return bind_order(add, 2, entry.order)
      .bind(6, ending)
      .bind(7, at_ms)
      .bind(8, entry.arrival)
      .finish();
}

OrError<void> ViewFold::add_latest(const ArrivedEntry& entry, std::int64_t kind,
                                   std::string_view about) {
  Statement& add = statements_[kAddLatest];
  add.bind(1, kind).bind_bytes(2, about);
  return bind_order(add, 3, entry.order).bind(7, entry.arrival).finish();
}

OrError<void> ViewFold::add_back(const ArrivedEntry& entry) {
  const proto::MachineBack& back = entry.entry->machine_back();
  Statement& add = statements_[kAddBack];
  add.bind_bytes(1, back.machine());
  return bind_order(add, 2, entry.order)
      .bind_bytes(6, back.seen().device())
      .bind(7, signed_of(back.seen().sequence()))
      .bind(8, entry.arrival)
      .finish();
}

}  // namespace chipfall
