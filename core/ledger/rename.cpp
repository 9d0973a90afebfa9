#include "core/ledger/rename.h"

#include <fmt/format.h>

#include <optional>

#include "core/ledger/schema.h"
#include "core/ledger/view_tables.h"
#include "core/proto/ledger.pb.h"

namespace chipfall {

namespace {

void rename(proto::EntryName& name, const NewNames& names) {
  if (name.device() != names.old_device) return;
  const auto found = names.sequences.find(name.sequence());
  if (found == names.sequences.end()) return;
  name.set_device(names.new_device);
  name.set_sequence(found->second);
}

void rename(proto::DutyName& duty, const NewNames& names) {
  if (duty.has_session()) rename(*duty.mutable_session(), names);
}

void rename_mentioned(proto::Entry& entry, const NewNames& names) {
  switch (entry.payload_case()) {
    case proto::Entry::kDutyDone:
      if (entry.duty_done().has_duty()) rename(*entry.mutable_duty_done()->mutable_duty(), names);
      return;
    case proto::Entry::kDutyPassedOn:
      if (entry.duty_passed_on().has_duty())
        rename(*entry.mutable_duty_passed_on()->mutable_duty(), names);
      return;
    case proto::Entry::kDutyNotNeeded:
      if (entry.duty_not_needed().has_duty())
        rename(*entry.mutable_duty_not_needed()->mutable_duty(), names);
      return;
    case proto::Entry::kDutyReopened:
      if (entry.duty_reopened().has_duty())
        rename(*entry.mutable_duty_reopened()->mutable_duty(), names);
      return;
    case proto::Entry::kMachineBack:
      if (entry.machine_back().has_seen()) {
        rename(*entry.mutable_machine_back()->mutable_seen(), names);
      }
      return;
    case proto::Entry::kShopClosed:
      for (proto::DutyName& duty : *entry.mutable_shop_closed()->mutable_open()) {
        rename(duty, names);
      }
      return;
    default:
      return;
  }
}

EntryRow row_of(const proto::Entry& entry, const std::string& bytes, const EntryRow& was) {
  EntryRow row = was;
  row.order = {
      {entry.clock().wall_ms(), entry.clock().counter()}, entry.device(), entry.sequence()};
  row.bytes = bytes;
  return row;
}

/// Writes the row over the one that was named `device`, `sequence`.
OrError<void> write_over(SqliteFile& file, const std::string& device, std::uint64_t sequence,
                         const EntryRow& row) {
  auto statement =
      Statement::prepare(file,
                         "UPDATE entries SET device = ?1, sequence = ?2, wall_ms = ?3, counter = "
                         "?4, received_ms = ?5, doubt = ?6, bytes = ?7, checksum = ?8 "
                         "WHERE device = ?9 AND sequence = ?10",
                         "give an entry its new name");
  if (!statement) return tl::unexpected(statement.error());
  return statement->bind_bytes(1, row.order.device)
      .bind(2, static_cast<std::int64_t>(row.order.sequence))
      .bind(3, row.order.clock.wall_ms)
      .bind(4, row.order.clock.counter)
      .bind(5, row.received_ms)
      .bind(6, static_cast<std::int64_t>(row.doubt))
      .bind_bytes(7, row.bytes)
      .bind(8, checksum_of(row))
      .bind_bytes(9, device)
      .bind(10, static_cast<std::int64_t>(sequence))
      .finish();
}

struct Found {
  EntryRow row;
  std::string bytes;
};

OrError<std::optional<Found>> find(SqliteFile& file, const std::string& device,
                                   std::uint64_t sequence) {
  auto statement = Statement::prepare(
      file,
      fmt::format("SELECT {} FROM entries WHERE device = ?1 AND sequence = ?2", kEntryColumns),
      "read an entry");
  if (!statement) return tl::unexpected(statement.error());
  const auto step =
      statement->bind_bytes(1, device).bind(2, static_cast<std::int64_t>(sequence)).step();
  if (!step) return tl::unexpected(step.error());
  if (!*step) return std::nullopt;
  Found found{entry_at(*statement), {}};
  found.bytes = std::string(found.row.bytes);
  found.row.bytes = {};
  return found;
}

OrError<void> remove(SqliteFile& file, const std::string& device, std::uint64_t sequence) {
  auto statement =
      Statement::prepare(file, "DELETE FROM entries WHERE device = ?1 AND sequence = ?2",
                         "remove an entry that is here by another name");
  if (!statement) return tl::unexpected(statement.error());
  return statement->bind_bytes(1, device).bind(2, static_cast<std::int64_t>(sequence)).finish();
}

}  // namespace

OrError<std::string> renamed_entry(const std::string& bytes, const NewNames& names) {
  proto::Entry entry;
  if (!entry.ParseFromString(bytes)) {
    return tl::unexpected(Error{ErrorCode::kMistake, "an entry to rename cannot be read", {}});
  }
  const auto found = names.sequences.find(entry.sequence());
  if (entry.device() == names.old_device && found != names.sequences.end()) {
    entry.set_device(names.new_device);
    entry.set_sequence(found->second);
  }
  rename_mentioned(entry, names);
  return entry.SerializeAsString();
}

OrError<void> move_entries(SqliteFile& file, std::span<const MovedEntry> entries) {
  for (const MovedEntry& moved : entries) {
    const auto found = find(file, moved.device, moved.sequence);
    if (!found) return tl::unexpected(found.error());
    if (!*found) {
      return tl::unexpected(file.refusal(ErrorCode::kUnknown, "an entry to rename is not here"));
    }
    proto::Entry entry;
    if (!entry.ParseFromString(moved.bytes)) {
      return tl::unexpected(file.refusal(ErrorCode::kMistake, "an entry did not take its name"));
    }
    const auto there = find(file, entry.device(), entry.sequence());
    if (!there) return tl::unexpected(there.error());
    if (*there && (*there)->bytes != moved.bytes) {
      return tl::unexpected(file.refusal(ErrorCode::kMistake, "an entry's new name is taken"));
    }
    const auto written = *there ? remove(file, moved.device, moved.sequence)
                                : write_over(file, moved.device, moved.sequence,
                                             row_of(entry, moved.bytes, (*found)->row));
    if (!written) return written;
  }
  return entries.empty() ? OrError<void>() : outdate_views(file);
}

OrError<void> insert_received(SqliteFile& file, const std::string& bytes, std::int64_t now_ms) {
  proto::Entry entry;
  if (!entry.ParseFromString(bytes)) {
    return tl::unexpected(file.refusal(ErrorCode::kMistake, "a received entry cannot be read"));
  }
  auto insert = prepare_insert(file);
  if (!insert) return tl::unexpected(insert.error());
  EntryRow row = row_of(entry, bytes, {});
  row.received_ms = now_ms;
  row.doubt = doubt_of(entry.event_utc_ms(), now_ms, 0);
  const auto added = insert_entry(file, *insert, row);
  if (!added) return tl::unexpected(added.error());
  return {};
}

OrError<void> replace_entry(SqliteFile& file, const std::string& bytes, std::int64_t now_ms) {
  proto::Entry entry;
  if (!entry.ParseFromString(bytes)) {
    return tl::unexpected(file.refusal(ErrorCode::kMistake, "a received entry cannot be read"));
  }
  const auto found = find(file, entry.device(), entry.sequence());
  if (!found) return tl::unexpected(found.error());
  if (!*found) {
    return tl::unexpected(file.refusal(ErrorCode::kUnknown, "an entry to replace is not here"));
  }
  EntryRow row = row_of(entry, bytes, (*found)->row);
  row.received_ms = now_ms;
  row.doubt = doubt_of(entry.event_utc_ms(), now_ms, 0);
  const auto written = write_over(file, entry.device(), entry.sequence(), row);
  return written ? outdate_views(file) : written;
}

}  // namespace chipfall
