#include "sync/device_state.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "core/ledger/rename.h"
#include "sync/batch.h"
#include "sync/secret.h"

namespace chipfall {

namespace {

constexpr const char* kTables =
    "CREATE TABLE IF NOT EXISTS sync_place (one INTEGER PRIMARY KEY CHECK (one = 1),"
    "  installation BLOB NOT NULL, shop TEXT NOT NULL, shop_name TEXT NOT NULL,"
    "  role INTEGER NOT NULL, credential BLOB NOT NULL, hub_epoch BLOB NOT NULL,"
    "  offered_epoch BLOB NOT NULL, cursor INTEGER NOT NULL, acked INTEGER NOT NULL,"
    "  hub_last INTEGER NOT NULL, ahead_ms INTEGER NOT NULL, pending_device BLOB NOT NULL,"
    "  pending_epoch BLOB NOT NULL, pending_credential BLOB NOT NULL) STRICT;"
    "INSERT OR IGNORE INTO sync_place VALUES"
    "  (1, x'', '', '', 0, x'', x'', x'', 0, 0, 0, 0, x'', x'', x'');"
    "CREATE TABLE IF NOT EXISTS sync_hub (one INTEGER PRIMARY KEY CHECK (one = 1),"
    "  host BLOB NOT NULL, port INTEGER NOT NULL, fingerprint BLOB NOT NULL) STRICT;"
    "CREATE TABLE IF NOT EXISTS sync_join (one INTEGER PRIMARY KEY CHECK (one = 1),"
    "  host BLOB NOT NULL, port INTEGER NOT NULL, fingerprint BLOB NOT NULL,"
    "  secret_hash BLOB NOT NULL, credential BLOB NOT NULL) STRICT;"
    "CREATE TABLE IF NOT EXISTS sync_former (device BLOB PRIMARY KEY, settled INTEGER NOT NULL)"
    "  STRICT;"
    "CREATE TABLE IF NOT EXISTS sync_parked (device BLOB NOT NULL, sequence INTEGER NOT NULL,"
    "  tries INTEGER NOT NULL, sentence TEXT NOT NULL, bytes BLOB NOT NULL,"
    "  PRIMARY KEY (device, sequence)) STRICT;";

constexpr std::size_t kEpochBytes = 16;

std::int64_t stored(std::uint64_t number) { return static_cast<std::int64_t>(number); }
std::uint64_t read(std::int64_t number) { return static_cast<std::uint64_t>(number); }

bool holds_whole(proto::Role role) {
  return role == proto::ROLE_CLOSER || role == proto::ROLE_COORDINATOR;
}

/// Whether these bytes can be an entry of the ledger at all.
bool is_entry(const std::string& bytes) {
  proto::Entry entry;
  return bytes.size() <= kMostEntryBytes && entry.ParseFromString(bytes) &&
         !entry.device().empty() && entry.device().size() <= kMostDeviceBytes &&
         entry.sequence() >= 1 && entry.sequence() <= read(INT64_MAX);
}

bool is_reduced(std::string_view bytes) {
  proto::Entry entry;
  return entry.ParseFromArray(bytes.data(), static_cast<int>(bytes.size())) && entry.reduced();
}

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

OrError<DeviceState> DeviceState::open(LedgerStore& store, const std::string& installation,
                                       const Random& random) {
  DeviceState state(store);
  const auto made = state.make_tables();
  if (!made) return tl::unexpected(made.error());
  const auto known = state.read_place();
  if (!known) return tl::unexpected(known.error());
  const auto hub = state.read_hub();
  if (!hub) return tl::unexpected(hub.error());
  const auto epoch = store.epoch();
  if (!epoch) return tl::unexpected(epoch.error());
  const bool copied = !known->empty() && !installation.empty() && *known != installation;
  if (epoch->empty() || copied) {
    // The epoch first: were it lost in between, the copy would be noticed again.
    const auto set = store.set_epoch(random(kEpochBytes));
    if (!set) return tl::unexpected(set.error());
  }
  if (!installation.empty() && *known != installation) {
    auto statement = Statement::prepare(store.file(), "UPDATE sync_place SET installation = ?1",
                                        "save which installation this is");
    if (!statement) return tl::unexpected(statement.error());
    const auto saved = statement->bind_bytes(1, installation).finish();
    if (!saved) return tl::unexpected(saved.error());
  }
  return state;
}

OrError<void> DeviceState::make_tables() {
  auto transaction = WriteTransaction::begin(store_->file());
  if (!transaction) return tl::unexpected(transaction.error());
  const auto made = store_->file().run(kTables);
  if (!made) return made;
  return transaction->commit();
}

/// Reads everything; the installation that the file remembers.
OrError<std::string> DeviceState::read_place() {
  auto statement = Statement::prepare(
      store_->file(),
      "SELECT installation, shop, shop_name, role, credential, hub_epoch, offered_epoch, cursor,"
      " acked, hub_last, ahead_ms, pending_device, pending_epoch, pending_credential "
      "FROM sync_place",
      "read what is known of the hub");
  if (!statement) return tl::unexpected(statement.error());
  const auto row = statement->step();
  if (!row) return tl::unexpected(row.error());
  const auto text = [&](int column) { return std::string(statement->bytes(column)); };
  place_.shop = text(1);
  place_.shop_name = text(2);
  place_.role = static_cast<proto::Role>(statement->number(3));
  place_.credential = text(4);
  place_.hub_epoch = text(5);
  place_.offered_epoch = text(6);
  place_.cursor = read(statement->number(7));
  place_.acked = read(statement->number(8));
  place_.hub_last = read(statement->number(9));
  place_.ahead_ms = statement->number(10);
  pending_.reset();
  if (!statement->bytes(11).empty()) pending_ = PendingName{text(11), text(12), text(13)};
  return text(0);
}

OrError<void> DeviceState::write_place(const SyncPlace& place,
                                       const std::optional<PendingName>& pending) {
  auto statement = Statement::prepare(
      store_->file(),
      "UPDATE sync_place SET shop = CAST(?1 AS TEXT), shop_name = CAST(?2 AS TEXT), role = ?3,"
      " credential = ?4, hub_epoch = ?5, offered_epoch = ?6, cursor = ?7, acked = ?8,"
      " hub_last = ?9, ahead_ms = ?10, pending_device = ?11, pending_epoch = ?12,"
      " pending_credential = ?13",
      "save what is known of the hub");
  if (!statement) return tl::unexpected(statement.error());
  const PendingName none;
  const PendingName& name = pending ? *pending : none;
  return statement->bind_bytes(1, place.shop)
      .bind_bytes(2, place.shop_name)
      .bind(3, place.role)
      .bind_bytes(4, place.credential)
      .bind_bytes(5, place.hub_epoch)
      .bind_bytes(6, place.offered_epoch)
      .bind(7, stored(place.cursor))
      .bind(8, stored(place.acked))
      .bind(9, stored(place.hub_last))
      .bind(10, place.ahead_ms)
      .bind_bytes(11, name.device)
      .bind_bytes(12, name.epoch)
      .bind_bytes(13, name.credential)
      .finish();
}

OrError<void> DeviceState::put_place(const SyncPlace& place) {
  const auto written = write_place(place, pending_);
  if (written) place_ = place;
  return written;
}

OrError<void> DeviceState::read_hub() {
  auto hub = Statement::prepare(store_->file(), "SELECT host, port, fingerprint FROM sync_hub",
                                "read where the hub is");
  if (!hub) return tl::unexpected(hub.error());
  const auto address_in = [](const Statement& row) {
    return HubAddress{std::string(row.bytes(0)), static_cast<std::uint16_t>(row.number(1)),
                      std::string(row.bytes(2))};
  };
  const auto known = hub->step();
  if (!known) return tl::unexpected(known.error());
  if (*known) hub_ = address_in(*hub);
  auto join = Statement::prepare(
      store_->file(), "SELECT host, port, fingerprint, secret_hash, credential FROM sync_join",
      "read what is being joined");
  if (!join) return tl::unexpected(join.error());
  const auto begun = join->step();
  if (!begun) return tl::unexpected(begun.error());
  if (*begun) {
    pending_join_ =
        PendingJoin{address_in(*join), std::string(join->bytes(3)), std::string(join->bytes(4))};
  }
  return {};
}

OrError<void> DeviceState::begin_join(const JoinCode& code, const Random& random) {
  PendingJoin join{{code.host, code.port, code.fingerprint}, sha256(code.secret), ""};
  const bool again = pending_join_ && pending_join_->secret_hash == join.secret_hash &&
                     pending_join_->hub.fingerprint == join.hub.fingerprint;
  join.credential = again ? pending_join_->credential : random(kCredentialBytes);
  auto put = Statement::prepare(store_->file(),
                                "INSERT OR REPLACE INTO sync_join VALUES (1, ?1, ?2, ?3, ?4, ?5)",
                                "save what is being joined");
  if (!put) return tl::unexpected(put.error());
  const auto kept = put->bind_bytes(1, join.hub.host)
                        .bind(2, join.hub.port)
                        .bind_bytes(3, join.hub.fingerprint)
                        .bind_bytes(4, join.secret_hash)
                        .bind_bytes(5, join.credential)
                        .finish();
  if (kept) pending_join_ = std::move(join);
  return kept;
}

OrError<void> DeviceState::finish_join(const proto::Joined& joined) {
  if (!pending_join_) return {};
  SyncPlace place;
  place.shop = joined.shop();
  place.shop_name = joined.shop_name();
  place.role = joined.role();
  place.credential = pending_join_->credential;
  place.ahead_ms = place_.ahead_ms;
  auto transaction = WriteTransaction::begin(store_->file());
  if (!transaction) return tl::unexpected(transaction.error());
  const auto written = write_place(place, pending_);
  if (!written) return written;
  const auto moved = store_->file().run(
      "INSERT OR REPLACE INTO sync_hub SELECT one, host, port, fingerprint FROM sync_join;"
      "DELETE FROM sync_join");
  if (!moved) return moved;
  const auto committed = transaction->commit();
  if (!committed) return committed;
  place_ = place;
  hub_ = pending_join_->hub;
  pending_join_.reset();
  return {};
}

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

OrError<std::vector<std::string>> DeviceState::own_from(std::uint64_t first, std::size_t most) {
  std::vector<std::string> found;
  const auto visited = store_->visit_device(device(), first - 1, [&](const StoredEntry& entry) {
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

OrError<Taken> DeviceState::take_page(std::span<const std::string> entries, std::uint64_t next,
                                      std::uint64_t hub_last, std::int64_t now_ms) {
  auto taken = store_page(entries, {}, next, hub_last, now_ms);
  if (taken || taken.error().code == ErrorCode::kUnreadable) return taken;
  // Something that can be no entry is the exception, so only now each is looked at by itself.
  std::vector<std::string> sound;
  std::vector<std::string> broken;
  for (const std::string& entry : entries) (is_entry(entry) ? sound : broken).push_back(entry);
  if (broken.empty()) return taken;
  return store_page(sound, broken, next, hub_last, now_ms);
}

OrError<Taken> DeviceState::store_page(std::span<const std::string> sound,
                                       std::span<const std::string> broken, std::uint64_t next,
                                       std::uint64_t hub_last, std::int64_t now_ms) {
  SyncPlace place = place_;
  place.cursor = next;
  place.hub_last = std::max(hub_last, next);
  Taken taken;
  const auto answers =
      store_->add_received(sound, now_ms, [&](std::span<const Received> all) -> OrError<void> {
        const auto settled = settle_differing(sound, all, now_ms, taken);
        if (!settled) return settled;
        for (std::size_t i = 0; i < broken.size(); ++i) {
          const auto kept = park({"", next + i, kTriesBeforeParking,
                                  "the hub sent something that is no entry", broken[i]});
          if (!kept) return kept;
        }
        return write_place(place, pending_);
      });
  if (!answers) return tl::unexpected(answers.error());
  place_ = place;
  taken.added =
      static_cast<std::size_t>(std::count(answers->begin(), answers->end(), Received::kNew));
  return taken;
}

/// Where the hub's entry and the one here have one name and other bytes.
OrError<void> DeviceState::settle_differing(std::span<const std::string> entries,
                                            std::span<const Received> answers, std::int64_t now_ms,
                                            Taken& taken) {
  const auto former = former_names();
  if (!former) return tl::unexpected(former.error());
  for (std::size_t i = 0; i < answers.size(); ++i) {
    if (former->empty() && answers[i] != Received::kKnownDifferent) continue;
    proto::Entry entry;
    if (!entry.ParseFromString(entries[i])) continue;  // is_entry has parsed it
    const bool own_once = former->count(entry.device()) > 0;
    taken.of_former = taken.of_former || own_once;
    if (answers[i] != Received::kKnownDifferent) continue;
    if (own_once && !entry.reduced()) {
      // Another device went on under that name, and the hub had its entry first.
      const auto moved = make_room(entry.device(), entry.sequence(), entries[i], now_ms);
      if (!moved) return moved;
      ++taken.replaced;
      continue;
    }
    // Own ones are settled by Compare and a new name; a reduced one adds nothing to a whole one.
    if (entry.device() == device() || entry.reduced()) continue;
    const auto ours = store_->bytes_of(entry.device(), entry.sequence());
    if (!ours) return tl::unexpected(ours.error());
    if (*ours && !is_reduced(**ours)) {
      const auto kept =
          park({entry.device(), entry.sequence(), kTriesBeforeParking,
                "the hub has another entry by this name; this one was here before", **ours});
      if (!kept) return kept;
    }
    const auto replaced = replace_entry(store_->file(), entries[i], now_ms);
    if (!replaced) return replaced;
    ++taken.replaced;
  }
  return {};
}

/// Moves the own entry of a former name to the present one and puts the hub's in its place; inside
/// a transaction.
OrError<void> DeviceState::make_room(const std::string& former, std::uint64_t sequence,
                                     const std::string& bytes, std::int64_t now_ms) {
  const auto highest = own_highest();
  if (!highest) return tl::unexpected(highest.error());
  const auto renamed =
      rename_entries(store_->file(), {former, device(), {{sequence, *highest + 1}}});
  if (!renamed) return renamed;
  return insert_received(store_->file(), bytes, now_ms);
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

OrError<void> DeviceState::begin_new_name(const PendingName& name) {
  const auto written = write_place(place_, name);
  if (written) pending_ = name;
  return written;
}

OrError<void> DeviceState::take_new_name(std::span<const std::uint64_t> differing,
                                         std::uint64_t settled) {
  if (!pending_) return {};
  const PendingName name = *pending_;
  const std::string old = device();
  SyncPlace place = place_;
  place.credential = name.credential;
  place.acked = 0;
  place.ahead_ms = 0;  // what was measured under the old name says nothing of the new one's entries
  // From the beginning: what another device wrote under the old name was not sent to this one.
  place.cursor = 0;
  const auto move = [&](std::span<const Received>) -> OrError<void> {
    NewNames names{old, name.device, {}};
    std::uint64_t sequence = 0;
    for (const std::uint64_t from : differing) names.sequences[from] = ++sequence;
    const auto renamed = rename_entries(store_->file(), names);
    if (!renamed) return renamed;
    auto statement = Statement::prepare(
        store_->file(), "INSERT OR REPLACE INTO sync_former VALUES (?1, ?2)", "keep the old name");
    if (!statement) return tl::unexpected(statement.error());
    const auto kept = statement->bind_bytes(1, old).bind(2, stored(settled)).finish();
    if (!kept) return kept;
    return write_place(place, {});
  };
  const auto became = store_->become(name.device, name.epoch, move);
  if (!became) return became;
  place_ = place;
  pending_.reset();
  return {};
}

OrError<void> DeviceState::move_here(const std::string& former,
                                     std::span<const std::uint64_t> sequences,
                                     std::int64_t now_ms) {
  const auto highest = own_highest();
  if (!highest) return tl::unexpected(highest.error());
  NewNames names{former, device(), {}};
  std::uint64_t sequence = *highest;
  for (const std::uint64_t from : sequences) names.sequences[from] = ++sequence;
  const auto moved = store_->add_received(
      {}, now_ms, [&](std::span<const Received>) { return rename_entries(store_->file(), names); });
  if (!moved) return tl::unexpected(moved.error());
  return {};
}

OrError<std::map<std::string, std::uint64_t>> DeviceState::former_names() {
  auto statement = Statement::prepare(store_->file(), "SELECT device, settled FROM sync_former",
                                      "read former names");
  if (!statement) return tl::unexpected(statement.error());
  std::map<std::string, std::uint64_t> names;
  while (true) {
    const auto row = statement->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return names;
    names[std::string(statement->bytes(0))] = read(statement->number(1));
  }
}

OrError<void> DeviceState::settle_former(const std::string& former, std::uint64_t through) {
  auto statement =
      Statement::prepare(store_->file(), "UPDATE sync_former SET settled = ?2 WHERE device = ?1",
                         "save how far a former name is settled");
  if (!statement) return tl::unexpected(statement.error());
  return statement->bind_bytes(1, former).bind(2, stored(through)).finish();
}

}  // namespace chipfall
