#include <fmt/format.h>

#include <utility>

#include "core/ledger/view_read.h"
#include "core/ledger/views.h"

/// The views where the latest word stands: machines out, supplies, the sheet.
namespace chipfall {

namespace {

struct LatestRow {
  std::string about;
  std::int64_t arrival = 0;
};

/// By what they are about.
OrError<std::vector<LatestRow>> latest_of(SqliteFile& file, std::int64_t kind) {
  auto statement = Statement::prepare(
      file, "SELECT about, arrival FROM view_latest WHERE kind = ?1 ORDER BY about",
      "read the latest words");
  if (!statement) return tl::unexpected(statement.error());
  statement->bind(1, kind);
  std::vector<LatestRow> rows;
  while (true) {
    const auto row = statement->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return rows;
    rows.push_back({std::string(statement->bytes(0)), statement->number(1)});
  }
}

/// The backs after a machine-out entry.
struct Backs {
  bool seen = false;                ///< one, of whatever time, names that entry
  std::vector<FoldedEntry> others;  ///< later ones that do not
};

OrError<Backs> backs_of(SqliteFile& file, EntryLookup& reader, const std::string& machine,
                        const EntryOrder& out) {
  auto statement = Statement::prepare(
      file,
      "SELECT seen_device, seen_sequence, arrival,"
      " (wall_ms, counter, device, sequence) > (?2, ?3, ?4, ?5)"
      " FROM view_backs WHERE machine = ?1 ORDER BY wall_ms, counter, device, sequence",
      "read which machines are back");
  if (!statement) return tl::unexpected(statement.error());
  statement->bind_bytes(1, machine)
      .bind(2, out.clock.wall_ms)
      .bind(3, out.clock.counter)
      .bind_bytes(4, out.device)
      .bind(5, static_cast<std::int64_t>(out.sequence));
  Backs backs;
  while (true) {
    const auto row = statement->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return backs;
    // Which entry was seen decides, not which clock says later.
    if (statement->bytes(0) == out.device &&
        static_cast<std::uint64_t>(statement->number(1)) == out.sequence) {
      backs.seen = true;
      return backs;
    }
    if (statement->number(3) == 0) continue;  // of an earlier time out of order
    auto back = reader.at(statement->number(2));
    if (!back) return tl::unexpected(back.error());
    backs.others.push_back(std::move(*back));
  }
}

SupplyNotice supply_notice(const FoldedEntry& folded) {
  SupplyNotice notice;
  notice.told = folded.told;
  notice.low = folded.entry.has_supply_low();
  if (notice.low) {
    const proto::SupplyLow& low = folded.entry.supply_low();
    notice.supply = low.supply();
    if (low.has_left()) notice.amount = low.left();
  } else {
    const proto::SupplyRestocked& restocked = folded.entry.supply_restocked();
    notice.supply = restocked.supply();
    if (restocked.has_added()) notice.amount = restocked.added();
  }
  return notice;
}

}  // namespace

OrError<std::vector<MachineNotice>> Views::machines_out() {
  const auto moment = ReadMoment::begin(store_->file());
  if (!moment) return tl::unexpected(moment.error());
  auto reader = EntryLookup::prepare(store_->file());
  if (!reader) return tl::unexpected(reader.error());
  const auto latest = latest_of(store_->file(), proto::Entry::kMachineOut);
  if (!latest) return tl::unexpected(latest.error());
  std::vector<MachineNotice> notices;
  for (const LatestRow& row : *latest) {
    const auto out = reader->at(row.arrival);
    if (!out) return tl::unexpected(out.error());
    const auto backs = backs_of(store_->file(), *reader, row.about, out->order);
    if (!backs) return tl::unexpected(backs.error());
    if (backs->seen) continue;
    MachineNotice notice{out->told, row.about, out->entry.machine_out().reason(), {}};
    for (const FoldedEntry& back : backs->others) notice.unseen_backs.push_back(back.told);
    notices.push_back(std::move(notice));
  }
  return notices;
}

OrError<std::vector<SupplyNotice>> Views::supplies() {
  const auto moment = ReadMoment::begin(store_->file());
  if (!moment) return tl::unexpected(moment.error());
  auto reader = EntryLookup::prepare(store_->file());
  if (!reader) return tl::unexpected(reader.error());
  const auto latest = latest_of(store_->file(), proto::Entry::kSupplyLow);
  if (!latest) return tl::unexpected(latest.error());
  std::vector<SupplyNotice> notices;
  for (const LatestRow& row : *latest) {
    const auto folded = reader->at(row.arrival);
    if (!folded) return tl::unexpected(folded.error());
    notices.push_back(supply_notice(*folded));
  }
  return notices;
}

OrError<std::optional<SheetFact>> Views::sheet() {
  const auto moment = ReadMoment::begin(store_->file());
  if (!moment) return tl::unexpected(moment.error());
  auto reader = EntryLookup::prepare(store_->file());
  if (!reader) return tl::unexpected(reader.error());
  const auto latest = latest_of(store_->file(), proto::Entry::kSheetRevision);
  if (!latest) return tl::unexpected(latest.error());
  std::optional<SheetFact> fact;
  if (latest->empty()) return fact;
  auto folded = reader->at(latest->front().arrival);
  if (!folded) return tl::unexpected(folded.error());
  fact = SheetFact{folded->told, std::move(*folded->entry.mutable_sheet_revision())};
  return fact;
}

}  // namespace chipfall
