#include <array>

#include "sync/batch.h"
#include "sync/device_rows.h"
#include "sync/device_state.h"
#include "sync/reduce.h"

/// What has to be sent, what was acknowledged, and what the hub does not take.
namespace chipfall {

namespace {

/// Prepared once: it is asked after each frame.
OrError<Statement> prepare_outbox(SqliteFile& file) {
  // CROSS JOIN keeps the order: former names are few, entries many.
  return Statement::prepare(
      file,
      "SELECT"
      " (SELECT count(*) FROM entries WHERE device = ?1 AND sequence > ?2),"
      " (SELECT count(*) FROM entries WHERE device = ?1 AND sequence <= ?2),"
      " (SELECT count(*) FROM sync_former f CROSS JOIN entries e ON e.device = f.device"
      "   WHERE e.sequence <= f.settled),"
      " (SELECT count(*) FROM sync_parked WHERE device = ?1 AND sequence > ?2),"
      " (SELECT count(*) FROM sync_parked WHERE device = ?1 AND sequence <= ?2),"
      " (SELECT count(*) FROM sync_parked WHERE device = ?1 AND tries >= ?3),"
      " (SELECT count(*) FROM sync_former f CROSS JOIN entries e ON e.device = f.device"
      "   WHERE e.sequence > f.settled)",
      "count what waits");
}

}  // namespace

OrError<std::uint64_t> DeviceState::own_highest() {
  auto statement = Statement::prepare(
      store_->file(), "SELECT max(sequence) FROM entries WHERE device = ?1", "count own entries");
  if (!statement) return tl::unexpected(statement.error());
  const auto row = statement->bind_bytes(1, device()).step();
  if (!row) return tl::unexpected(row.error());
  return read(statement->number(0));
}

OrError<Outbox> DeviceState::outbox() {
  if (!outbox_) {
    auto made = prepare_outbox(store_->file());
    if (!made) return tl::unexpected(made.error());
    outbox_ = std::move(*made);
  }
  const auto row = outbox_->bind_bytes(1, device())
                       .bind(2, stored(place_.acked))
                       .bind(3, kTriesBeforeParking)
                       .step();
  std::array<std::int64_t, 7> counts{};
  for (int i = 0; row && i < 7; ++i) counts[static_cast<std::size_t>(i)] = outbox_->number(i);
  outbox_->reset();  // a read left open would hold up the folding of the log
  if (!row) return tl::unexpected(row.error());
  const auto number = [&](std::size_t column) { return counts[column]; };
  Outbox box;
  box.parked = number(5);
  box.at_hub = number(1) - number(4) + number(2);
  // Refused ones that are not parked yet are still waiting.
  box.waiting = number(0) + number(4) - box.parked + number(6);
  return box;
}

OrError<std::set<std::uint64_t>> DeviceState::set_aside(const std::string& name, bool retry) {
  auto statement = Statement::prepare(
      store_->file(), "SELECT sequence, tries FROM sync_parked WHERE device = ?1 ORDER BY sequence",
      "read what was set aside");
  if (!statement) return tl::unexpected(statement.error());
  statement->bind_bytes(1, name);
  std::set<std::uint64_t> sequences;
  while (true) {
    const auto row = statement->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return sequences;
    if (!retry || statement->number(1) < kTriesBeforeParking) {
      sequences.insert(read(statement->number(0)));
    }
  }
}

OrError<std::vector<OwnEntry>> DeviceState::entries_after(const std::string& name,
                                                          std::uint64_t after) {
  const auto aside = set_aside(name, false);
  if (!aside) return tl::unexpected(aside.error());
  std::vector<OwnEntry> entries;
  std::size_t size = 0;
  const auto visited = store_->visit_device(name, after, [&](const StoredEntry& entry) {
    if (aside->count(entry.order.sequence) > 0) return true;
    // What was reduced for this device is not whole, so it is not offered to others.
    if (name != device() && is_reduced(entry.bytes)) return true;
    if (entries.size() == kMostBatchEntries || size + entry.bytes.size() > kMostBatchBytes) {
      return false;
    }
    size += entry.bytes.size();
    entries.push_back({entry.order.sequence, std::string(entry.bytes)});
    return true;
  });
  if (!visited) return tl::unexpected(visited.error());
  return entries;
}

OrError<std::vector<OwnEntry>> DeviceState::to_retry() {
  const auto aside = set_aside(device(), true);
  if (!aside) return tl::unexpected(aside.error());
  std::vector<OwnEntry> entries;
  for (const std::uint64_t sequence : *aside) {
    auto bytes = store_->bytes_of(device(), sequence);
    if (!bytes) return tl::unexpected(bytes.error());
    if (*bytes) entries.push_back({sequence, std::move(**bytes)});
  }
  return entries;
}

OrError<std::vector<std::string>> DeviceState::own_from(const std::string& name,
                                                        std::uint64_t first, std::size_t most) {
  std::vector<std::string> found;
  const auto visited = store_->visit_device(name, first - 1, [&](const StoredEntry& entry) {
    if (entry.order.sequence - first >= most) return false;
    found.resize(entry.order.sequence - first + 1);
    found.back() = entry.bytes;
    return true;
  });
  if (!visited) return tl::unexpected(visited.error());
  return found;
}

OrError<std::vector<HeldName>> DeviceState::other_names(const std::string& after,
                                                        std::size_t most) {
  const auto highest = store_->highest_sequences();
  if (!highest) return tl::unexpected(highest.error());
  const auto former = former_names();
  if (!former) return tl::unexpected(former.error());
  std::vector<HeldName> names;
  for (auto held = highest->upper_bound(after); held != highest->end(); ++held) {
    if (names.size() == most) break;
    const bool own_once = former->count(held->first) > 0;
    if (held->first == device() || (!own_once && !holds_whole(place_.role))) continue;
    names.push_back({held->first, held->second});
  }
  return names;
}

OrError<void> DeviceState::acknowledged(std::uint64_t through) {
  if (through <= place_.acked) return {};
  SyncPlace place = place_;
  place.acked = through;
  return put_place(place);
}

OrError<void> DeviceState::park(const ParkedEntry& entry) {
  auto statement = Statement::prepare(
      store_->file(),
      "INSERT INTO sync_parked VALUES (?1, ?2, ?3, CAST(?4 AS TEXT), ?5) ON CONFLICT DO UPDATE "
      "SET tries = ?3, sentence = CAST(?4 AS TEXT)",
      "set an entry aside");
  if (!statement) return tl::unexpected(statement.error());
  return statement->bind_bytes(1, entry.device)
      .bind(2, stored(entry.sequence))
      .bind(3, entry.tries)
      .bind_bytes(4, entry.sentence)
      .bind_bytes(5, entry.bytes)
      .finish();
}

OrError<bool> DeviceState::refused(const std::string& name, std::uint64_t sequence,
                                   const std::string& sentence) {
  const auto before = parked();
  if (!before) return tl::unexpected(before.error());
  std::int64_t tries = 1;
  for (const ParkedEntry& entry : *before) {
    if (entry.device == name && entry.sequence == sequence) tries = entry.tries + 1;
  }
  const auto kept = park({name, sequence, tries, sentence, ""});
  if (!kept) return tl::unexpected(kept.error());
  return tries >= kTriesBeforeParking;
}

OrError<std::vector<ParkedEntry>> DeviceState::parked() {
  auto statement = Statement::prepare(
      store_->file(),
      "SELECT device, sequence, tries, sentence, bytes FROM sync_parked ORDER BY device, sequence",
      "read what was set aside");
  if (!statement) return tl::unexpected(statement.error());
  std::vector<ParkedEntry> entries;
  while (true) {
    const auto row = statement->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return entries;
    entries.push_back({std::string(statement->bytes(0)), read(statement->number(1)),
                       statement->number(2), std::string(statement->bytes(3)),
                       std::string(statement->bytes(4))});
  }
}

OrError<void> DeviceState::unpark(const std::string& name, std::uint64_t sequence) {
  auto statement = Statement::prepare(
      store_->file(), "UPDATE sync_parked SET tries = 0 WHERE device = ?1 AND sequence = ?2",
      "offer an entry again");
  if (!statement) return tl::unexpected(statement.error());
  return statement->bind_bytes(1, name).bind(2, stored(sequence)).finish();
}

OrError<void> DeviceState::no_longer_refused(std::uint64_t sequence) {
  auto statement = Statement::prepare(store_->file(),
                                      "DELETE FROM sync_parked WHERE device = ?1 AND "
                                      "sequence = ?2 AND bytes = x''",
                                      "note that an entry was taken");
  if (!statement) return tl::unexpected(statement.error());
  return statement->bind_bytes(1, device()).bind(2, stored(sequence)).finish();
}

}  // namespace chipfall
