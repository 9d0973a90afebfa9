#include "core/ledger/rename.h"
#include "sync/device_rows.h"
#include "sync/device_state.h"

/// The names of a device: the present one, the one it is about to take, and those it had.
namespace chipfall {

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
