#include <fmt/format.h>

#include <algorithm>
#include <functional>

#include "core/ledger/view_read.h"
#include "core/ledger/view_tables.h"
#include "core/ledger/views.h"

/// The views that keep all their facts.
namespace chipfall {

namespace {

using Take = std::function<OrError<void>(FoldedEntry&&)>;

/// Facts of kind ?1 from the time ?2 on.
OrError<Statement> facts_by(SqliteFile& file, const char* order) {
  return Statement::prepare(file,
                            fmt::format("SELECT {} FROM view_facts CROSS JOIN entries"
                                        " ON entries.arrival = view_facts.arrival"
                                        " WHERE kind = ?1 AND at_ms >= ?2 ORDER BY {}",
                                        kFoldedColumns, order),
                            "read a view");
}

/// Every fact of one kind from `from_ms` on, by time (entries of one ms in any order).
OrError<void> each_fact(SqliteFile& file, std::int64_t kind, std::int64_t from_ms,
                        const Take& take) {
  auto statement = facts_by(file, "at_ms");
  if (!statement) return tl::unexpected(statement.error());
  statement->bind(1, kind).bind(2, from_ms);
  while (true) {
    const auto row = statement->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return {};
    auto folded = folded_at(file, *statement);
    if (!folded) return tl::unexpected(folded.error());
    const auto taken = take(std::move(*folded));
    if (!taken) return taken;
  }
}

SessionFact session_of(FoldedEntry&& folded) {
  return {folded.told, std::move(*folded.entry.mutable_session_ended())};
}

template <typename Fact>
void by_time(std::vector<Fact>& facts) {
  std::ranges::sort(facts, [](const Fact& a, const Fact& b) { return earlier(a.told, b.told); });
}

/// Facts of one kind, each made by `make` from its entry.
template <typename Fact, typename Make>
OrError<std::vector<Fact>> facts_of(SqliteFile& file, std::int64_t kind, std::int64_t from_ms,
                                    Make make) {
  std::vector<Fact> facts;
  const auto read = each_fact(file, kind, from_ms, [&](FoldedEntry&& folded) {
    facts.push_back(make(std::move(folded)));
    return OrError<void>();
  });
  if (!read) return tl::unexpected(read.error());
  by_time(facts);
  return facts;
}

/// Whether a duty-done entry still stands.
class DoneCheck {
 public:
  static OrError<DoneCheck> prepare(SqliteFile& file) {
    auto of_session =
        Statement::prepare(file,
                           "SELECT ending_arrival FROM view_duties"
                           " WHERE session_device = ?1 AND session_sequence = ?2 AND id = ?3",
                           "read how a duty ended");
    if (!of_session) return tl::unexpected(of_session.error());
    auto of_building =
        Statement::prepare(file,
                           "SELECT ending FROM view_building WHERE id = ?1 AND ending <> 5"
                           " AND (wall_ms, counter, device, sequence) > (?2, ?3, ?4, ?5)"
                           " ORDER BY wall_ms, counter, device, sequence LIMIT 1",
                           "read how a duty of the building ended");
    if (!of_building) return tl::unexpected(of_building.error());
    return DoneCheck(std::move(*of_session), std::move(*of_building));
  }

  OrError<bool> stands(const FoldedEntry& folded) {
    const proto::DutyName& duty = folded.entry.duty_done().duty();
    return duty.session().device().empty() ? of_building(folded, duty) : of_session(folded, duty);
  }

 private:
  DoneCheck(Statement of_session, Statement of_building)
      : of_session_(std::move(of_session)), of_building_(std::move(of_building)) {}

  OrError<bool> of_session(const FoldedEntry& folded, const proto::DutyName& duty) {
    const auto row = of_session_.bind_bytes(1, duty.session().device())
                         .bind(2, static_cast<std::int64_t>(duty.session().sequence()))
                         .bind_bytes(3, duty.id())
                         .step();
    if (!row) return tl::unexpected(row.error());
    const bool stands = *row && of_session_.number(0) == folded.arrival;
    of_session_.reset();
    return stands;
  }

  OrError<bool> of_building(const FoldedEntry& folded, const proto::DutyName& duty) {
    const auto next = of_building_.bind_bytes(1, duty.id())
                          .bind(2, folded.order.clock.wall_ms)
                          .bind(3, folded.order.clock.counter)
                          .bind_bytes(4, folded.order.device)
                          .bind(5, static_cast<std::int64_t>(folded.order.sequence))
                          .step();
    if (!next) return tl::unexpected(next.error());
    const bool taken_back =
        *next && of_building_.number(0) == static_cast<std::int64_t>(EndingCode::kReopened);
    of_building_.reset();
    return !taken_back;
  }

  Statement of_session_;
  Statement of_building_;
};

OrError<void> each_done(SqliteFile& file, std::int64_t from_ms, const Take& take) {
  auto check = DoneCheck::prepare(file);
  if (!check) return tl::unexpected(check.error());
  return each_fact(file, proto::Entry::kDutyDone, from_ms,
                   [&](FoldedEntry&& folded) -> OrError<void> {
                     const auto stands = check->stands(folded);
                     if (!stands) return tl::unexpected(stands.error());
                     return *stands ? take(std::move(folded)) : OrError<void>();
                   });
}

/// The duties "empty-bin:..." that were done and still stand. They are few among all that were
/// done, so they are found by their ids.
OrError<void> each_bin_done(SqliteFile& file, std::int64_t from_ms, const Take& take) {
  auto check = DoneCheck::prepare(file);
  if (!check) return tl::unexpected(check.error());
  auto statement = Statement::prepare(
      file,
      fmt::format("SELECT {} FROM"
                  " (SELECT ending_arrival AS done FROM view_duties WHERE ending = 1"
                  "  AND session_device <> x'' AND id >= ?2 AND id < ?3 AND ended_ms >= ?1"
                  "  UNION ALL SELECT arrival FROM view_building WHERE ending = 1"
                  "  AND id >= ?2 AND id < ?3 AND at_ms >= ?1)"
                  " CROSS JOIN entries ON entries.arrival = done"
                  " CROSS JOIN view_facts ON view_facts.arrival = done",
                  kFoldedColumns),
      "read which bins were emptied");
  if (!statement) return tl::unexpected(statement.error());
  std::string behind = kEmptyBinPrefix;
  ++behind.back();
  statement->bind(1, from_ms).bind_bytes(2, kEmptyBinPrefix).bind_bytes(3, behind);
  while (true) {
    const auto row = statement->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return {};
    auto folded = folded_at(file, *statement);
    if (!folded) return tl::unexpected(folded.error());
    const auto stands = check->stands(*folded);
    if (!stands) return tl::unexpected(stands.error());
    const auto taken = *stands ? take(std::move(*folded)) : OrError<void>();
    if (!taken) return taken;
  }
}

}  // namespace

OrError<std::vector<SessionFact>> Views::sessions(std::int64_t from_ms) {
  return facts_of<SessionFact>(store_->file(), proto::Entry::kSessionEnded, from_ms, session_of);
}

OrError<void> Views::sessions_back(const std::function<bool(SessionFact&&)>& take) {
  auto statement = facts_by(store_->file(), "at_ms DESC, device DESC, sequence DESC");
  if (!statement) return tl::unexpected(statement.error());
  statement->bind(1, std::int64_t{proto::Entry::kSessionEnded}).bind(2, std::int64_t{0});
  while (true) {
    const auto row = statement->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return {};
    auto folded = folded_at(store_->file(), *statement);
    if (!folded) return tl::unexpected(folded.error());
    if (!take(session_of(std::move(*folded)))) return {};
  }
}

OrError<std::optional<SessionFact>> Views::session(const EntryRef& entry) {
  auto lookup = EntryLookup::prepare(store_->file());
  if (!lookup) return tl::unexpected(lookup.error());
  auto found = lookup->named(entry);
  if (!found) return tl::unexpected(found.error());
  std::optional<SessionFact> session;
  if (*found && (*found)->entry.has_session_ended()) session = session_of(std::move(**found));
  return session;
}

OrError<std::vector<NoteFact>> Views::notes(std::int64_t from_ms) {
  return facts_of<NoteFact>(store_->file(), proto::Entry::kNote, from_ms, [](FoldedEntry&& folded) {
    return NoteFact{folded.told, std::move(*folded.entry.mutable_note())};
  });
}

OrError<std::vector<ClosingFact>> Views::closings(std::int64_t from_ms) {
  return facts_of<ClosingFact>(
      store_->file(), proto::Entry::kShopClosed, from_ms, [](FoldedEntry&& folded) {
        return ClosingFact{folded.told, std::move(*folded.entry.mutable_shop_closed())};
      });
}

OrError<std::vector<ZoneFact>> Views::zones(std::int64_t from_ms) {
  return facts_of<ZoneFact>(store_->file(), proto::Entry::kZoneSeen, from_ms,
                            [](FoldedEntry&& folded) {
                              const proto::ZoneSeen& seen = folded.entry.zone_seen();
                              return ZoneFact{folded.told, seen.zone(), seen.seen()};
                            });
}

OrError<std::vector<DoneFact>> Views::done(std::int64_t from_ms) {
  const auto moment = ReadMoment::begin(store_->file());
  if (!moment) return tl::unexpected(moment.error());
  auto reader = EntryLookup::prepare(store_->file());
  if (!reader) return tl::unexpected(reader.error());
  std::vector<DoneFact> facts;
  const auto read = each_done(store_->file(), from_ms, [&](FoldedEntry&& folded) -> OrError<void> {
    const proto::DutyName& duty = folded.entry.duty_done().duty();
    const proto::EntryName& session = duty.session();
    auto owed = reader->owed({session.device(), session.sequence()}, duty.id());
    if (!owed) return tl::unexpected(owed.error());
    facts.push_back({folded.told, std::move(*folded.entry.mutable_duty_done()), std::move(*owed)});
    return {};
  });
  if (!read) return tl::unexpected(read.error());
  by_time(facts);
  return facts;
}

OrError<std::vector<BinFact>> Views::bins(std::int64_t from_ms) {
  const auto moment = ReadMoment::begin(store_->file());
  if (!moment) return tl::unexpected(moment.error());
  auto facts =
      facts_of<BinFact>(store_->file(), proto::Entry::kBinSeen, from_ms, [](FoldedEntry&& folded) {
        const proto::BinSeen& seen = folded.entry.bin_seen();
        return BinFact{folded.told, seen.bin(), false, false, seen.seen()};
      });
  if (!facts) return facts;
  const auto emptied = facts_of<BinFact>(
      store_->file(), proto::Entry::kBinEmptied, from_ms, [](FoldedEntry&& folded) {
        const proto::BinEmptied& told = folded.entry.bin_emptied();
        return BinFact{folded.told, told.bin(), true, told.bag_replaced(), ""};
      });
  if (!emptied) return emptied;
  facts->insert(facts->end(), emptied->begin(), emptied->end());
  const auto done = each_bin_done(store_->file(), from_ms, [&](FoldedEntry&& folded) {
    const std::string& id = folded.entry.duty_done().duty().id();
    facts->push_back(
        {folded.told, id.substr(std::string_view(kEmptyBinPrefix).size()), true, false, ""});
    return OrError<void>();
  });
  if (!done) return tl::unexpected(done.error());
  by_time(*facts);
  return facts;
}

}  // namespace chipfall
