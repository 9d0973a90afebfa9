#include "core/ledger/rename.h"
#include "sync/device_rows.h"
#include "sync/device_state.h"
#include "sync/secret.h"

/// The names of a device: the present one, the one it is about to take, and those it had.
namespace chipfall {

std::string moved_name(const std::string& name, std::uint64_t sequence, std::string_view bytes) {
  std::string seen = "chipfall moved 1";
  seen += sha256(name);
  for (int i = 0; i < 8; ++i) seen += static_cast<char>(sequence >> (8 * i));
  return short_hash(seen.append(bytes));
}

OrError<void> DeviceState::begin_new_name(const PendingName& name) {
  const auto written = write_place(place_, name);
  if (written) pending_ = name;
  return written;
}

OrError<void> DeviceState::take_new_name(std::span<const std::uint64_t> moving,
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
    const auto moved = move_line(old, moving);
    if (!moved) return moved;
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

OrError<void> DeviceState::leave_former(const std::string& former,
                                        std::span<const std::uint64_t> moving,
                                        std::uint64_t settled, std::int64_t now_ms) {
  const auto left =
      store_->add_received({}, now_ms, [&](std::span<const Received>) -> OrError<void> {
        const auto moved = move_line(former, moving);
        return moved ? settle_former(former, settled) : moved;
      });
  if (!left) return tl::unexpected(left.error());
  return {};
}

/// The entries leave their name. Where others stand by the new name already, those of a copy that
/// differs from here on, what follows leaves that name in the same way.
OrError<void> DeviceState::move_line(const std::string& name,
                                     std::span<const std::uint64_t> moving) {
  std::vector<MovedEntry> line;
  for (const std::uint64_t sequence : moving) {
    auto bytes = store_->bytes_of(name, sequence);
    if (!bytes) return tl::unexpected(bytes.error());
    if (*bytes) line.push_back({name, sequence, std::move(**bytes)});
  }
  std::string from = name;
  for (std::size_t first = 0; first < line.size();) {
    NewNames names{from, name_of_moved(from, line[first].sequence, line[first].bytes), {}};
    for (std::size_t i = first; i < line.size(); ++i) {
      names.sequences[line[i].sequence] = line[i].sequence;
    }
    const auto kept = keep_moved_name(names.new_device);
    if (!kept) return kept;
    for (std::size_t i = first; i < line.size(); ++i) {
      auto bytes = renamed_entry(line[i].bytes, names);
      if (!bytes) return tl::unexpected(bytes.error());
      line[i].bytes = std::move(*bytes);
    }
    for (; first < line.size(); ++first) {
      const auto there = store_->bytes_of(names.new_device, line[first].sequence);
      if (!there) return tl::unexpected(there.error());
      if (*there && **there != line[first].bytes) break;
    }
    from = names.new_device;
  }
  return move_entries(store_->file(), line);
}

/// All of it is offered, whatever was settled of it before.
OrError<void> DeviceState::keep_moved_name(const std::string& name) {
  for (const char* sql : {"INSERT OR REPLACE INTO sync_former VALUES (?1, 0)",
                          "INSERT OR IGNORE INTO sync_moved VALUES (?1)"}) {
    auto statement = Statement::prepare(store_->file(), sql, "keep the name of moved entries");
    if (!statement) return tl::unexpected(statement.error());
    const auto kept = statement->bind_bytes(1, name).finish();
    if (!kept) return kept;
  }
  return {};
}

OrError<std::vector<std::string>> DeviceState::moved_names() {
  auto statement = Statement::prepare(
      store_->file(),
      "SELECT device FROM sync_moved JOIN sync_former f USING (device) WHERE EXISTS "
      "(SELECT 1 FROM entries e WHERE e.device = f.device AND e.sequence > f.settled)",
      "read the names of moved entries");
  if (!statement) return tl::unexpected(statement.error());
  std::vector<std::string> names;
  while (true) {
    const auto row = statement->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return names;
    names.emplace_back(statement->bytes(0));
  }
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
