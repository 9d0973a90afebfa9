#include "sync/hub_store.h"

#include <fmt/format.h>
#include <sqlite3.h>

#include <filesystem>
#include <limits>

#include "core/ledger/schema.h"
#include "core/ledger/store.h"
#include "sync/hub_store_connection.h"
#include "sync/hub_tables.h"
#include "sync/secret.h"

namespace chipfall {

namespace fs = std::filesystem;

namespace {

constexpr auto kMostSequence = std::uint64_t(std::numeric_limits<std::int64_t>::max());

std::int64_t as_number(std::uint64_t value) { return static_cast<std::int64_t>(value); }

}  // namespace

SqliteHubLog::SqliteHubLog() = default;
SqliteHubLog::~SqliteHubLog() = default;

OrError<std::unique_ptr<SqliteHubLog::Connection>> SqliteHubLog::connect(
    const std::string& path, bool may_create, const HubStoreOptions& options) {
  auto file = SqliteFile::open(path, may_create, options.busy_ms);
  if (!file) return tl::unexpected(file.error());
  const auto known = check_hub_identity(*file);
  if (!known) return tl::unexpected(known.error());
  const auto set = apply_hub_settings(*file, options.most_pages);
  if (!set) return tl::unexpected(set.error());
  return std::make_unique<Connection>(std::move(*file));
}

OrError<std::unique_ptr<SqliteHubLog>> SqliteHubLog::create(const std::string& path,
                                                            const std::string& shop,
                                                            const std::string& shop_name,
                                                            const std::string& epoch,
                                                            const HubStoreOptions& options) {
  const auto wrong = [&](const char* what) {
    return tl::unexpected(Error{ErrorCode::kMistake, what, {path, 0, 0, ""}});
  };
  if (shop.empty()) return wrong("a shop needs an id");
  if (shop_name.size() > kMostShopNameBytes) return wrong("the shop's name is over 100 bytes");
  if (epoch.size() != kEpochBytes) return wrong("an epoch has 16 bytes");
  std::error_code ignored;
  if (fs::exists(path, ignored)) return wrong("there is a file already; choose another name");
  // Whole or not there: the name is taken only when the shop is in the file.
  const std::string making = path + ".new";
  for (const char* ending : {"", "-wal", "-shm"}) fs::remove(making + ending, ignored);
  {
    auto connection = connect(making, true, options);
    if (!connection) return tl::unexpected(connection.error());
    SqliteFile& file = (*connection)->file;
    const auto tables = migrate_hub(file);
    if (!tables) return tl::unexpected(tables.error());
    auto transaction = WriteTransaction::begin(file);
    if (!transaction) return tl::unexpected(transaction.error());
    // CAST: the columns are text, and bytes are bound as blobs.
    auto self = Statement::prepare(
        file, "INSERT INTO self VALUES (1, CAST(?1 AS TEXT), CAST(?2 AS TEXT), 0)",
        "write the shop");
    if (!self) return tl::unexpected(self.error());
    const auto named = self->bind_bytes(1, shop).bind_bytes(2, shop_name).finish();
    if (!named) return tl::unexpected(named.error());
    auto first = Statement::prepare(file, "INSERT INTO epochs VALUES (1, ?1, 0)", "begin");
    if (!first) return tl::unexpected(first.error());
    const auto begun = first->bind_bytes(1, epoch).finish();
    if (!begun) return tl::unexpected(begun.error());
    const auto committed = transaction->commit();
    if (!committed) return tl::unexpected(committed.error());
    // Closing folds the log into the file as well, but says nothing where it could not, and the log
    // does not take the new name.
    const auto still_busy = file.number_of("PRAGMA wal_checkpoint(TRUNCATE)");
    if (!still_busy) return tl::unexpected(still_busy.error());
    if (*still_busy != 0) return wrong("another program holds the new shop's file; try again");
  }
  std::error_code failure;
  fs::rename(making, path, failure);
  if (failure) return wrong("the new shop's file could not take its name");
  return open(path, options);
}

OrError<std::unique_ptr<SqliteHubLog>> SqliteHubLog::open(const std::string& path,
                                                          const HubStoreOptions& options) {
  std::unique_ptr<SqliteHubLog> log(new SqliteHubLog);
  log->path_ = path;
  log->options_ = options;
  auto reader = connect(path, false, options);
  if (!reader) return tl::unexpected(reader.error());
  log->reader_ = std::move(*reader);
  if (options.quick_check) {
    const auto sound = quick_check(log->reader_->file);
    if (!sound) return tl::unexpected(sound.error());
  }
  const auto tables = migrate_hub(log->reader_->file);
  if (!tables) return tl::unexpected(tables.error());
  // What a hub that was killed had written and not synced can be read now: before any phone is sent
  // it, it is put on disk, or a power cut would take back what phones have.
  const auto settled = settle_log(log->reader_->file);
  if (!settled) return tl::unexpected(settled.error());
  auto writer = connect(path, false, options);
  if (!writer) return tl::unexpected(writer.error());
  log->writer_ = std::move(*writer);
  const auto read = log->read_self();
  if (!read) return tl::unexpected(read.error());
  return log;
}

OrError<void> SqliteHubLog::read_self() {
  SqliteFile& file = reader_->file;
  auto self = Statement::prepare(file, "SELECT shop, shop_name FROM self", "read the shop");
  if (!self) return tl::unexpected(self.error());
  const auto row = self->step();
  if (!row) return tl::unexpected(row.error());
  if (!*row) {
    return tl::unexpected(file.refusal(ErrorCode::kUnreadable,
                                       "this file has lost its shop; restore it from a backup"));
  }
  shop_ = self->bytes(0);
  shop_name_ = self->bytes(1);
  const auto known = epochs();
  if (!known) return tl::unexpected(known.error());
  if (known->empty()) {
    return tl::unexpected(file.refusal(ErrorCode::kUnreadable,
                                       "this file has lost its epoch; restore it from a backup"));
  }
  const auto last = file.number_of("SELECT max(position) FROM entries");
  if (!last) return tl::unexpected(last.error());
  last_position_ = static_cast<std::uint64_t>(*last);
  return {};
}

OrError<std::vector<HubEpoch>> SqliteHubLog::epochs() {
  auto found = reader_->statement("SELECT id, began_after FROM epochs ORDER BY number",
                                  "read the hub's epochs");
  if (!found) return tl::unexpected(found.error());
  const InUse rows(**found);
  std::vector<HubEpoch> epochs;
  while (true) {
    const auto row = rows->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return epochs;
    epochs.push_back({std::string(rows->bytes(0)), static_cast<std::uint64_t>(rows->number(1))});
  }
}

OrError<Held> SqliteHubLog::held(const std::string& device) {
  auto found = reader_->statement(
      "SELECT sequence, bytes FROM entries WHERE name = (SELECT name FROM names WHERE device = ?1) "
      "ORDER BY sequence DESC LIMIT 1",
      "find the latest entry of a device");
  if (!found) return tl::unexpected(found.error());
  const InUse latest(**found);
  const auto row = latest->bind_bytes(1, device).step();
  if (!row) return tl::unexpected(row.error());
  if (!*row) return Held{};
  return Held{static_cast<std::uint64_t>(latest->number(0)), sha256(latest->bytes(1))};
}

OrError<std::string> SqliteHubLog::short_hash_of(const std::string& device,
                                                 std::uint64_t sequence) {
  if (sequence > kMostSequence) return std::string();
  auto found = reader_->statement(
      "SELECT bytes FROM entries WHERE name = (SELECT name FROM names WHERE device = ?1) "
      "AND sequence = ?2",
      "compare an entry");
  if (!found) return tl::unexpected(found.error());
  const InUse one(**found);
  const auto row = one->bind_bytes(1, device).bind(2, as_number(sequence)).step();
  if (!row) return tl::unexpected(row.error());
  return *row ? short_hash(one->bytes(0)) : std::string();
}

OrError<void> SqliteHubLog::visit(std::uint64_t after,
                                  const std::function<bool(const LoggedEntry&)>& visitor) {
  if (after >= last_position_.load()) return {};
  // Not kept: a visitor may ask this log for other things, or visit it.
  auto rows = Statement::prepare(
      reader_->file,
      "SELECT position, device, sequence, bytes, received_ms, checksum FROM entries JOIN names "
      "USING (name) WHERE position > ?1 ORDER BY position",
      "read the log");
  if (!rows) return tl::unexpected(rows.error());
  rows->bind(1, as_number(after));
  while (true) {
    const auto row = rows->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return {};
    const LoggedEntry entry{static_cast<std::uint64_t>(rows->number(0)), rows->bytes(1),
                            static_cast<std::uint64_t>(rows->number(2)), rows->bytes(3)};
    if (hub_checksum(entry.position, entry.device, entry.sequence, rows->number(4), entry.bytes) !=
        static_cast<std::uint32_t>(rows->number(5))) {
      return tl::unexpected(reader_->file.refusal(
          ErrorCode::kUnreadable,
          fmt::format("entry {} of the log is damaged; keep the file and restore from a backup: "
                      "the phones fill in what the backup lacks",
                      entry.position)));
    }
    if (!visitor(entry)) return {};
  }
}

OrError<std::vector<Verdicts>> SqliteHubLog::commit(std::span<const Offer> offers,
                                                    std::int64_t now_utc_ms) {
  const std::lock_guard lock(writing_);
  if (writer_failed_) {
    const auto again = reopen_writer();
    if (!again) return tl::unexpected(again.error());
  }
  new_names_.clear();
  next_position_ = last_position_.load() + 1;
  auto transaction = WriteTransaction::begin(writer_->file);
  if (!transaction) {
    note_failure();
    return tl::unexpected(transaction.error());
  }
  auto verdicts = add_offers(offers, now_utc_ms);
  if (verdicts) {
    const auto committed = transaction->commit();
    if (!committed) verdicts = tl::unexpected(committed.error());
  }
  if (!verdicts) {
    note_failure();  // before the rollback, which would hide what failed
    return verdicts;
  }
  disk_full_ = false;
  names_.merge(new_names_);
  last_position_ = next_position_ - 1;
  return verdicts;
}

void SqliteHubLog::note_failure() {
  const int result = sqlite3_errcode(writer_->file.get());
  const int primary = result & 0xff;
  disk_full_ = primary == SQLITE_FULL || sqlite3_system_errno(writer_->file.get()) == ENOSPC;
  writer_failed_ = primary == SQLITE_IOERR || primary == SQLITE_CORRUPT;
}

OrError<void> SqliteHubLog::reopen_writer() {
  auto writer = connect(path_, false, options_);
  if (!writer) return tl::unexpected(writer.error());
  const auto last = (*writer)->file.number_of("SELECT max(position) FROM entries");
  if (!last) return tl::unexpected(last.error());
  writer_ = std::move(*writer);
  names_.clear();
  // A commit that reported failure may be whole on disk all the same; its entries are then "known".
  last_position_ = static_cast<std::uint64_t>(*last);
  writer_failed_ = false;
  return {};
}

OrError<std::vector<Verdicts>> SqliteHubLog::add_offers(std::span<const Offer> offers,
                                                        std::int64_t now_utc_ms) {
  std::vector<Verdicts> answers;
  for (const Offer& offer : offers) {
    Verdicts& verdicts = answers.emplace_back(offer.entries.size(), proto::VERDICT_REFUSED);
    if (offer.device.empty() || offer.device.size() > kMostDeviceBytes) continue;
    if (offer.sequences.size() != offer.entries.size() || offer.entries.empty()) continue;
    const auto name = number_of_name(offer.device);
    if (!name) return tl::unexpected(name.error());
    for (std::size_t i = 0; i < offer.entries.size(); ++i) {
      const bool left = offer.line && offer.line->left;
      const auto verdict =
          left ? compare_entry(*name, offer.sequences[i], offer.entries[i])
               : add_entry(*name, offer.device, offer.sequences[i], offer.entries[i], now_utc_ms);
      if (!verdict) return tl::unexpected(verdict.error());
      verdicts[i] = *verdict;
      if (offer.line && *verdict == proto::VERDICT_KNOWN_DIFFERENT) offer.line->left = true;
    }
  }
  return answers;
}

OrError<std::int64_t> SqliteHubLog::number_of_name(const std::string& device) {
  for (const auto* known : {&names_, &new_names_}) {
    const auto at = known->find(device);
    if (at != known->end()) return at->second;
  }
  auto found = writer_->statement(
      "INSERT INTO names (device) VALUES (?1) ON CONFLICT DO UPDATE SET device = device "
      "RETURNING name",
      "write a device's name");
  if (!found) return tl::unexpected(found.error());
  const InUse upsert(**found);
  const auto row = upsert->bind_bytes(1, device).step();
  if (!row) return tl::unexpected(row.error());
  return new_names_[device] = upsert->number(0);
}

OrError<proto::Verdict> SqliteHubLog::add_entry(std::int64_t name, const std::string& device,
                                                std::uint64_t sequence, const std::string& bytes,
                                                std::int64_t now_utc_ms) {
  if (sequence < 1 || sequence > kMostSequence || bytes.size() > kMostEntryBytes) {
    return proto::VERDICT_REFUSED;
  }
  auto insert = writer_->statement(
      "INSERT INTO entries VALUES (?1, ?2, ?3, ?4, ?5, ?6) ON CONFLICT (name, sequence) DO NOTHING",
      "save an entry");
  if (!insert) return tl::unexpected(insert.error());
  const auto added = (*insert)
                         ->bind(1, as_number(next_position_))
                         .bind(2, name)
                         .bind(3, as_number(sequence))
                         .bind(4, now_utc_ms)
                         .bind_bytes(5, bytes)
                         .bind(6, hub_checksum(next_position_, device, sequence, now_utc_ms, bytes))
                         .finish();
  if (!added) return tl::unexpected(added.error());
  if (sqlite3_changes(writer_->file.get()) == 1) {
    ++next_position_;
    return proto::VERDICT_NEW;
  }
  return compare_entry(name, sequence, bytes);
}

OrError<proto::Verdict> SqliteHubLog::compare_entry(std::int64_t name, std::uint64_t sequence,
                                                    const std::string& bytes) {
  auto found = writer_->statement("SELECT bytes FROM entries WHERE name = ?1 AND sequence = ?2",
                                  "compare an entry");
  if (!found) return tl::unexpected(found.error());
  const InUse one(**found);
  const auto row = one->bind(1, name).bind(2, as_number(sequence)).step();
  if (!row) return tl::unexpected(row.error());
  const bool same = *row && one->bytes(0) == bytes;
  return same ? proto::VERDICT_KNOWN_SAME : proto::VERDICT_KNOWN_DIFFERENT;
}

OrError<void> SqliteHubLog::begin_epoch(const std::string& epoch) {
  const std::lock_guard lock(writing_);
  auto found = reader_->statement(
      "INSERT INTO epochs (id, began_after) SELECT ?1, coalesce(max(position), 0) FROM entries",
      "begin a new epoch");
  if (!found) return tl::unexpected(found.error());
  return (*found)->bind_bytes(1, epoch).finish();
}

OrError<void> SqliteHubLog::back_up(const std::string& path) {
  std::error_code ignored;
  if (fs::exists(path, ignored)) {
    return tl::unexpected(Error{
        ErrorCode::kMistake, "there is a file already; choose another name", {path, 0, 0, ""}});
  }
  auto copy = Statement::prepare(reader_->file, "VACUUM INTO CAST(?1 AS TEXT)", "write a backup");
  if (!copy) return tl::unexpected(copy.error());
  return copy->bind_bytes(1, path).finish();
}

OrError<void> SqliteHubLog::check() {
  const auto sound = quick_check(reader_->file);
  if (!sound) return sound;
  std::uint64_t expected = 1;
  const auto read = visit(0, [&](const LoggedEntry& entry) {
    if (entry.position != expected) return false;
    ++expected;
    return true;
  });
  if (!read) return read;
  if (expected == last_position_.load() + 1) return {};
  return tl::unexpected(reader_->file.refusal(
      ErrorCode::kUnreadable, fmt::format("entry {} of the log is missing; keep the file and "
                                          "restore from a backup",
                                          expected)));
}

OrError<void> SqliteHubLog::fold_wal() {
  const std::lock_guard lock(writing_);
  // Without waiting: whoever reads now goes first, and the next quiet moment will do.
  sqlite3_busy_timeout(writer_->file.get(), 0);
  const auto folded = writer_->file.run("PRAGMA wal_checkpoint(TRUNCATE)");
  sqlite3_busy_timeout(writer_->file.get(), options_.busy_ms);
  return folded;
}

namespace {

std::int64_t bytes_of(const std::string& path) {
  std::error_code missing;
  const auto bytes = fs::file_size(path, missing);
  return missing ? 0 : static_cast<std::int64_t>(bytes);
}

}  // namespace

std::int64_t SqliteHubLog::wal_bytes() const { return bytes_of(path_ + "-wal"); }
std::int64_t SqliteHubLog::file_bytes() const { return bytes_of(path_); }

}  // namespace chipfall
