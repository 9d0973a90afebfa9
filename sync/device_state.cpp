#include "sync/device_state.h"

#include "sync/device_rows.h"
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
    "CREATE TABLE IF NOT EXISTS sync_moved (device BLOB PRIMARY KEY) STRICT;"
    "CREATE TABLE IF NOT EXISTS sync_parked (device BLOB NOT NULL, sequence INTEGER NOT NULL,"
    "  tries INTEGER NOT NULL, sentence TEXT NOT NULL, bytes BLOB NOT NULL,"
    "  PRIMARY KEY (device, sequence)) STRICT;";

constexpr std::size_t kEpochBytes = 16;

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

}  // namespace chipfall
