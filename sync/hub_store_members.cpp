#include <fmt/format.h>

#include "sync/hub_store.h"
#include "sync/hub_store_connection.h"

/// The devices of a shop and its joining codes.
namespace chipfall {

namespace {

HubDevice device_at(const Statement& row) {
  HubDevice device;
  device.device = row.bytes(0);
  device.lineage = row.bytes(1);
  device.verifier = row.bytes(2);
  device.role = static_cast<proto::Role>(row.number(3));
  device.epoch = row.bytes(4);
  device.label = row.bytes(5);
  device.joined_utc_ms = row.number(6);
  device.revoked = row.number(7) != 0;
  return device;
}

OrError<void> save_code(Statement& statement, const HubJoinCode& code) {
  return statement.bind_bytes(1, code.secret_hash)
      .bind(2, code.role)
      .bind(3, code.expires_utc_ms)
      .bind_bytes(4, code.used_by)
      .finish();
}

constexpr const char* kSaveCode = "INSERT OR REPLACE INTO join_codes VALUES (?1, ?2, ?3, ?4)";

}  // namespace

OrError<std::optional<HubDevice>> SqliteHubLog::device(const std::string& name) {
  auto found = reader_->statement(
      "SELECT device, lineage, verifier, role, epoch, label, joined_ms, revoked FROM devices "
      "WHERE device = ?1",
      "look for a device");
  if (!found) return tl::unexpected(found.error());
  const InUse one(**found);
  const auto row = one->bind_bytes(1, name).step();
  if (!row) return tl::unexpected(row.error());
  if (!*row) return std::nullopt;
  return device_at(**found);
}

OrError<std::vector<HubDevice>> SqliteHubLog::devices() {
  auto found = reader_->statement(
      "SELECT device, lineage, verifier, role, epoch, label, joined_ms, revoked FROM devices "
      "ORDER BY joined_ms, device",
      "list the devices");
  if (!found) return tl::unexpected(found.error());
  const InUse rows(**found);
  std::vector<HubDevice> devices;
  while (true) {
    const auto row = rows->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return devices;
    devices.push_back(device_at(**found));
  }
}

OrError<void> SqliteHubLog::write_device(const HubDevice& device) {
  SqliteFile& file = reader_->file;
  const auto known = this->device(device.device);
  if (!known) return tl::unexpected(known.error());
  if (!*known) {
    const auto many = file.number_of("SELECT count(*) FROM devices");
    if (!many) return tl::unexpected(many.error());
    if (*many >= static_cast<std::int64_t>(kMostDevicesOfShop)) {
      return tl::unexpected(file.refusal(
          ErrorCode::kOutOfBounds,
          fmt::format("this shop has {} devices, the most there may be", kMostDevicesOfShop)));
    }
  }
  auto found = reader_->statement(
      "INSERT OR REPLACE INTO devices VALUES (?1, ?2, ?3, ?4, ?5, CAST(?6 AS TEXT), ?7, ?8)",
      "save a device");
  if (!found) return tl::unexpected(found.error());
  const auto saved = (*found)
                         ->bind_bytes(1, device.device)
                         .bind_bytes(2, device.lineage)
                         .bind_bytes(3, device.verifier)
                         .bind(4, device.role)
                         .bind_bytes(5, device.epoch)
                         .bind_bytes(6, device.label)
                         .bind(7, device.joined_utc_ms)
                         .bind(8, device.revoked ? 1 : 0)
                         .finish();
  if (!saved) return saved;
  return file.run("UPDATE self SET membership = membership + 1");
}

OrError<void> SqliteHubLog::put_device(const HubDevice& device) {
  const std::lock_guard lock(writing_);
  auto transaction = WriteTransaction::begin(reader_->file);
  if (!transaction) return tl::unexpected(transaction.error());
  const auto written = write_device(device);
  if (!written) return written;
  return transaction->commit();
}

OrError<bool> SqliteHubLog::revoke(const std::string& name) {
  const std::lock_guard lock(writing_);
  auto transaction = WriteTransaction::begin(reader_->file);
  if (!transaction) return tl::unexpected(transaction.error());
  const auto known = device(name);
  if (!known) return tl::unexpected(known.error());
  if (!*known) return false;
  auto found =
      reader_->statement("UPDATE devices SET revoked = 1 WHERE lineage = ?1", "revoke a device");
  if (!found) return tl::unexpected(found.error());
  const auto revoked = (*found)->bind_bytes(1, (*known)->lineage).finish();
  if (!revoked) return tl::unexpected(revoked.error());
  const auto counted = reader_->file.run("UPDATE self SET membership = membership + 1");
  if (!counted) return tl::unexpected(counted.error());
  const auto committed = transaction->commit();
  if (!committed) return tl::unexpected(committed.error());
  return true;
}

OrError<std::int64_t> SqliteHubLog::membership() {
  auto found = reader_->statement("SELECT membership FROM self", "look for changes of devices");
  if (!found) return tl::unexpected(found.error());
  const InUse one(**found);
  const auto row = one->step();
  if (!row) return tl::unexpected(row.error());
  return *row ? one->number(0) : 0;
}

OrError<std::optional<HubJoinCode>> SqliteHubLog::join_code(const std::string& secret_hash) {
  auto found = reader_->statement(
      "SELECT secret_hash, role, expires_ms, used_by FROM join_codes WHERE secret_hash = ?1",
      "look for a join code");
  if (!found) return tl::unexpected(found.error());
  const InUse one(**found);
  const auto row = one->bind_bytes(1, secret_hash).step();
  if (!row) return tl::unexpected(row.error());
  if (!*row) return std::nullopt;
  HubJoinCode code;
  code.secret_hash = one->bytes(0);
  code.role = static_cast<proto::Role>(one->number(1));
  code.expires_utc_ms = one->number(2);
  code.used_by = one->bytes(3);
  return code;
}

OrError<void> SqliteHubLog::put_join_code(const HubJoinCode& code) {
  const std::lock_guard lock(writing_);
  auto found = reader_->statement(kSaveCode, "save a join code");
  if (!found) return tl::unexpected(found.error());
  return save_code(**found, code);
}

OrError<void> SqliteHubLog::add_join_code(const HubJoinCode& code, std::int64_t now_utc_ms) {
  {
    const std::lock_guard lock(writing_);
    SqliteFile& file = reader_->file;
    const auto forgotten = file.run(fmt::format("DELETE FROM join_codes WHERE expires_ms < {}",
                                                now_utc_ms - kCodeRemembered_ms));
    if (!forgotten) return forgotten;
    const auto open = file.number_of(fmt::format(
        "SELECT count(*) FROM join_codes WHERE expires_ms > {} AND used_by = x''", now_utc_ms));
    if (!open) return tl::unexpected(open.error());
    if (*open >= kMostOpenCodes) {
      return tl::unexpected(file.refusal(
          ErrorCode::kOutOfBounds,
          fmt::format("{} join codes of this shop are still good: use those, or wait 15 minutes",
                      *open)));
    }
  }
  return put_join_code(code);
}

OrError<void> SqliteHubLog::redeem(const HubJoinCode& code, const HubDevice& device) {
  const std::lock_guard lock(writing_);
  auto transaction = WriteTransaction::begin(reader_->file);
  if (!transaction) return tl::unexpected(transaction.error());
  const auto now = join_code(code.secret_hash);  // inside: another may just have used it
  if (!now) return tl::unexpected(now.error());
  if (!*now || !(*now)->used_by.empty()) {
    return tl::unexpected(reader_->file.refusal(ErrorCode::kMistake,
                                                "this code was used already; ask for a new one"));
  }
  HubJoinCode used = **now;
  used.used_by = device.device;
  auto found = reader_->statement(kSaveCode, "mark a join code as used");
  if (!found) return tl::unexpected(found.error());
  const auto marked = save_code(**found, used);
  if (!marked) return marked;
  const auto written = write_device(device);
  if (!written) return written;
  return transaction->commit();
}

}  // namespace chipfall
