#include "core/ledger/store.h"

#include <fmt/format.h>

#include <limits>
#include <utility>

namespace chipfall {

namespace {

/// For messages: a device's id in hexadecimal, since it need not be text.
std::string hex(std::string_view bytes) {
  std::string text;
  for (const char byte : bytes) text += fmt::format("{:02x}", static_cast<unsigned char>(byte));
  return text;
}

std::string name_of(const EntryOrder& order) {
  return fmt::format("entry {}/{}", hex(order.device), order.sequence);
}

OrError<void> check_device(const SqliteFile& file, const std::string& device) {
  if (!device.empty() && device.size() <= kMostDeviceBytes) return {};
  return tl::unexpected(
      file.refusal(ErrorCode::kMistake, fmt::format("a device id of {} bytes; it must have 1 to {}",
                                                    device.size(), kMostDeviceBytes)));
}

OrError<void> check_amount(const SqliteFile& file, std::size_t entries) {
  if (entries <= kMostEntriesAtOnce) return {};
  return tl::unexpected(file.refusal(
      ErrorCode::kOutOfBounds,
      fmt::format("{} entries at once; send at most {} at a time", entries, kMostEntriesAtOnce)));
}

OrError<void> check_size(const SqliteFile& file, std::size_t bytes) {
  if (bytes <= kMostEntryBytes) return {};
  return tl::unexpected(file.refusal(
      ErrorCode::kOutOfBounds, fmt::format("an entry of {} bytes; the most is {}: shorten its text",
                                           bytes, kMostEntryBytes)));
}

/// What the store reads of received bytes; the payload may be of any kind. `entry` is what they
/// say; given anew for each of many, it keeps its memory.
OrError<EntryRow> row_of(const SqliteFile& file, const std::string& bytes, std::size_t index,
                         proto::Entry& entry) {
  const auto sized = check_size(file, bytes.size());
  if (!sized) return tl::unexpected(sized.error());
  const auto wrong = [&](const std::string& what) {
    return tl::unexpected(file.refusal(
        ErrorCode::kMistake, fmt::format("received entry {} {}; set it aside", index, what)));
  };
  if (!entry.ParseFromString(bytes)) return wrong("cannot be read");
  if (entry.device().empty() || entry.device().size() > kMostDeviceBytes) {
    return wrong(fmt::format("names no device, or one of over {} bytes", kMostDeviceBytes));
  }
  constexpr auto kMostSequence = std::uint64_t(std::numeric_limits<std::int64_t>::max());
  if (entry.sequence() < 1 || entry.sequence() > kMostSequence) {
    return wrong("has no sequence number from 1 to 2^63 - 1");
  }
  EntryRow row;
  row.order = {
      {entry.clock().wall_ms(), entry.clock().counter()}, entry.device(), entry.sequence()};
  row.bytes = bytes;
  return row;
}

OrError<Statement> prepare_highest(SqliteFile& file) {
  return Statement::prepare(file, "SELECT max(sequence) FROM entries WHERE device = ?1",
                            "find the last own entry");
}

OrError<std::uint64_t> highest_of(Statement& find, const std::string& device) {
  const auto row = find.bind_bytes(1, device).step();
  const auto highest = row ? static_cast<std::uint64_t>(find.number(0)) : 0;  // NULL reads as 0
  find.reset();
  if (!row) return tl::unexpected(row.error());
  return highest;
}

OrError<Received> compare_known(SqliteFile& file, const EntryRow& row) {
  auto statement = Statement::prepare(
      file, "SELECT bytes FROM entries WHERE device = ?1 AND sequence = ?2", "compare an entry");
  if (!statement) return tl::unexpected(statement.error());
  const auto found = statement->bind_bytes(1, row.order.device)
                         .bind(2, static_cast<std::int64_t>(row.order.sequence))
                         .step();
  if (!found) return tl::unexpected(found.error());
  return statement->bytes(0) == row.bytes ? Received::kKnownSame : Received::kKnownDifferent;
}

}  // namespace

struct LedgerStore::Writing {
  Statement read_clock, highest, insert, store_clock;
};

OrError<void> LedgerStore::prepare_writing() {
  if (writing_) return {};
  auto read_clock = prepare_read_clock(*file_);
  if (!read_clock) return tl::unexpected(read_clock.error());
  auto highest = prepare_highest(*file_);
  if (!highest) return tl::unexpected(highest.error());
  auto insert = prepare_insert(*file_);
  if (!insert) return tl::unexpected(insert.error());
  auto store_clock = prepare_store_clock(*file_);
  if (!store_clock) return tl::unexpected(store_clock.error());
  writing_ = std::make_shared<Writing>(Writing{std::move(*read_clock), std::move(*highest),
                                               std::move(*insert), std::move(*store_clock)});
  return {};
}

OrError<LedgerStore> LedgerStore::open(const std::string& path, const LedgerOptions& options) {
  auto file = SqliteFile::open(path, options.may_create, options.busy_ms);
  if (!file) return tl::unexpected(file.error());
  LedgerStore store;
  store.file_ = std::make_unique<SqliteFile>(std::move(*file));
  store.shop_began_ms_ = options.shop_began_ms;

  const auto known = check_ledger_identity(*store.file_);
  if (!known) return tl::unexpected(known.error());
  if (options.quick_check) {
    const auto sound = quick_check(*store.file_);
    if (!sound) return tl::unexpected(sound.error());
  }
  const auto version = store.file_->number_of("PRAGMA user_version");
  if (!version) return tl::unexpected(version.error());
  if (*version == 0) {
    const auto named = check_device(*store.file_, options.device);
    if (!named) return tl::unexpected(named.error());
  }
  const auto set = apply_settings(*store.file_, options.most_pages);
  if (!set) return tl::unexpected(set.error());
  const auto current = migrate(*store.file_, options.device, ledger_steps());
  if (!current) return tl::unexpected(current.error());
  const auto settled = settle_log(*store.file_);
  if (!settled) return tl::unexpected(settled.error());
  const auto read = store.read_self(options);
  if (!read) return tl::unexpected(read.error());
  return store;
}

OrError<void> LedgerStore::read_self(const LedgerOptions& options) {
  const auto settings_now = settings();
  if (!settings_now) return tl::unexpected(settings_now.error());
  if (settings_now->application_id != kLedgerApplicationId ||
      settings_now->version != kLedgerVersion || settings_now->busy_ms != options.busy_ms) {
    return tl::unexpected(file_->refusal(ErrorCode::kUnreadable,
                                         "the ledger did not take its settings; open it again"));
  }
  auto device = file_->text_of("SELECT device FROM self");
  if (!device) return tl::unexpected(device.error());
  if (!options.device.empty() && *device != options.device) {
    return tl::unexpected(file_->refusal(
        ErrorCode::kMistake, fmt::format("this ledger belongs to device {}, not {}; open it on its "
                                         "own device, or choose another file",
                                         hex(*device), hex(options.device))));
  }
  device_ = std::move(*device);
  const auto clock = stored_clock(*file_);
  if (!clock) return tl::unexpected(clock.error());
  clock_ = *clock;
  return {};
}

OrError<void> LedgerStore::append(std::span<proto::Entry> entries, std::int64_t now_ms) {
  const auto amount = check_amount(*file_, entries.size());
  if (!amount) return amount;
  auto transaction = WriteTransaction::begin(*file_);
  if (!transaction) return tl::unexpected(transaction.error());
  const auto prepared = prepare_writing();
  if (!prepared) return prepared;
  // Clock and sequence are read inside the transaction: another process may have gone on.
  auto clock = stored_clock(*file_, writing_->read_clock);
  if (!clock) return tl::unexpected(clock.error());
  auto sequence = highest_of(writing_->highest, device_);
  if (!sequence) return tl::unexpected(sequence.error());

  std::vector<proto::Entry> made(entries.begin(), entries.end());
  for (proto::Entry& entry : made) {
    const HybridTime time = clock->tick(now_ms);
    entry.set_device(device_);
    entry.set_sequence(++*sequence);
    entry.mutable_clock()->set_wall_ms(time.wall_ms);
    entry.mutable_clock()->set_counter(time.counter);
    const std::string bytes = entry.SerializeAsString();
    const auto sized = check_size(*file_, bytes.size());
    if (!sized) return sized;
    const EventDoubt doubt = doubt_of(entry.event_utc_ms(), now_ms, shop_began_ms_);
    const auto added = insert_entry(*file_, writing_->insert,
                                    {{time, device_, *sequence}, now_ms, doubt, bytes, 0});
    if (!added) return tl::unexpected(added.error());
    if (!*added) {
      return tl::unexpected(
          file_->refusal(ErrorCode::kUnreadable,
                         "the ledger has lost count of its own entries, so nothing was "
                         "saved; keep the file and salvage what can be read into a new "
                         "one"));
    }
  }
  const auto kept = store_clock(writing_->store_clock, *clock);
  if (!kept) return kept;
  const auto committed = transaction->commit();
  if (!committed) return committed;
  clock_ = *clock;
  for (std::size_t i = 0; i < made.size(); ++i) entries[i].Swap(&made[i]);
  return {};
}

OrError<std::vector<Received>> LedgerStore::add_received(std::span<const std::string> entries,
                                                         std::int64_t now_ms) {
  return add_received(entries, now_ms, {});
}

OrError<std::vector<Received>> LedgerStore::add_received(std::span<const std::string> entries,
                                                         std::int64_t now_ms,
                                                         const InTransaction& also) {
  const auto amount = check_amount(*file_, entries.size());
  if (!amount) return tl::unexpected(amount.error());
  auto transaction = WriteTransaction::begin(*file_);
  if (!transaction) return tl::unexpected(transaction.error());
  const auto prepared = prepare_writing();
  if (!prepared) return tl::unexpected(prepared.error());
  auto clock = stored_clock(*file_, writing_->read_clock);
  if (!clock) return tl::unexpected(clock.error());

  std::vector<Received> answers;
  proto::Entry entry;
  for (const std::string& bytes : entries) {
    auto row = row_of(*file_, bytes, answers.size(), entry);
    if (!row) return tl::unexpected(row.error());
    row->received_ms = now_ms;
    row->doubt = doubt_of(entry.event_utc_ms(), now_ms, shop_began_ms_);
    const auto added = insert_entry(*file_, writing_->insert, *row);
    if (!added) return tl::unexpected(added.error());
    const auto answer = *added ? Received::kNew : compare_known(*file_, *row);
    if (!answer) return tl::unexpected(answer.error());
    answers.push_back(*answer);
    if (*answer == Received::kNew) clock->receive(row->order.clock, now_ms);
  }
  const auto kept = store_clock(writing_->store_clock, *clock);
  if (!kept) return tl::unexpected(kept.error());
  if (also) {
    const auto done = also(answers);
    if (!done) return tl::unexpected(done.error());
  }
  const auto committed = transaction->commit();
  if (!committed) return tl::unexpected(committed.error());
  clock_ = *clock;
  return answers;
}

OrError<void> LedgerStore::visit_rows(Statement& statement,
                                      const std::function<bool(const StoredEntry&)>& visitor) {
  while (true) {
    const auto row = statement.step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return {};
    const EntryRow entry = entry_at(statement);
    if (checksum_of(entry) != entry.checksum) {
      return tl::unexpected(file_->refusal(
          ErrorCode::kUnreadable, name_of(entry.order) + " is damaged; keep the file and salvage "
                                                         "what can be read into a new one"));
    }
    const std::int64_t arrival = statement.number(kEntryColumnCount);
    if (!visitor({arrival, entry.order, entry.received_ms, entry.doubt, entry.bytes})) return {};
  }
}

OrError<void> LedgerStore::visit(const std::function<bool(const StoredEntry&)>& visitor) {
  auto statement = Statement::prepare(
      *file_,
      fmt::format("SELECT {}, arrival FROM entries ORDER BY wall_ms, counter, device, sequence",
                  kEntryColumns),
      "read the entries");
  if (!statement) return tl::unexpected(statement.error());
  return visit_rows(*statement, visitor);
}

OrError<void> LedgerStore::visit_arrivals(std::int64_t after,
                                          const std::function<bool(const StoredEntry&)>& visitor) {
  auto statement = Statement::prepare(
      *file_,
      fmt::format("SELECT {}, arrival FROM entries WHERE arrival > ?1 ORDER BY arrival",
                  kEntryColumns),
      "read the entries that arrived");
  if (!statement) return tl::unexpected(statement.error());
  return visit_rows(statement->bind(1, after), visitor);
}

OrError<void> LedgerStore::visit_device(const std::string& device, std::uint64_t after,
                                        const std::function<bool(const StoredEntry&)>& visitor) {
  constexpr auto kMostSequence = std::uint64_t(std::numeric_limits<std::int64_t>::max());
  if (after >= kMostSequence) return {};
  auto statement = Statement::prepare(
      *file_,
      fmt::format("SELECT {}, arrival FROM entries WHERE device = ?1 AND sequence > ?2 "
                  "ORDER BY sequence",
                  kEntryColumns),
      "read a device's entries");
  if (!statement) return tl::unexpected(statement.error());
  return visit_rows(statement->bind_bytes(1, device).bind(2, static_cast<std::int64_t>(after)),
                    visitor);
}

OrError<std::optional<std::string>> LedgerStore::bytes_of(const std::string& device,
                                                          std::uint64_t sequence) {
  std::optional<std::string> found;
  if (sequence < 1) return found;
  const auto read = visit_device(device, sequence - 1, [&](const StoredEntry& entry) {
    if (entry.order.sequence == sequence) found = std::string(entry.bytes);
    return false;
  });
  if (!read) return tl::unexpected(read.error());
  return found;
}

OrError<std::int64_t> LedgerStore::last_arrival() {
  return file_->number_of("SELECT max(arrival) FROM entries");
}

OrError<std::string> LedgerStore::epoch() {
  auto statement = Statement::prepare(*file_, "SELECT epoch FROM self", "read the ledger's epoch");
  if (!statement) return tl::unexpected(statement.error());
  const auto row = statement->step();
  if (!row) return tl::unexpected(row.error());
  return *row ? std::string(statement->bytes(0)) : std::string();
}

OrError<void> LedgerStore::set_epoch(const std::string& epoch) {
  auto statement =
      Statement::prepare(*file_, "UPDATE self SET epoch = ?1", "save the ledger's epoch");
  if (!statement) return tl::unexpected(statement.error());
  return statement->bind_bytes(1, epoch).finish();
}

OrError<void> LedgerStore::become(const std::string& device, const std::string& epoch,
                                  const InTransaction& also) {
  const auto named = check_device(*file_, device);
  if (!named) return named;
  auto transaction = WriteTransaction::begin(*file_);
  if (!transaction) return tl::unexpected(transaction.error());
  {
    auto statement = Statement::prepare(*file_, "UPDATE self SET device = ?1, epoch = ?2",
                                        "save the ledger's new name");
    if (!statement) return tl::unexpected(statement.error());
    const auto saved = statement->bind_bytes(1, device).bind_bytes(2, epoch).finish();
    if (!saved) return saved;
  }
  if (also) {
    const auto done = also({});
    if (!done) return done;
  }
  const auto committed = transaction->commit();
  if (!committed) return committed;
  device_ = device;
  return {};
}

OrError<std::map<std::string, std::uint64_t>> LedgerStore::highest_sequences() {
  auto statement = Statement::prepare(
      *file_, "SELECT device, max(sequence) FROM entries GROUP BY device", "count the entries");
  if (!statement) return tl::unexpected(statement.error());
  std::map<std::string, std::uint64_t> highest;
  while (true) {
    const auto row = statement->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return highest;
    highest[std::string(statement->bytes(0))] = static_cast<std::uint64_t>(statement->number(1));
  }
}

OrError<LedgerCounts> LedgerStore::counts() {
  auto statement = Statement::prepare(
      *file_, "SELECT count(*), count(DISTINCT device), count(nullif(doubt, 0)) FROM entries",
      "count the entries");
  if (!statement) return tl::unexpected(statement.error());
  const auto row = statement->step();
  if (!row) return tl::unexpected(row.error());
  return LedgerCounts{statement->number(0), statement->number(1), statement->number(2)};
}

OrError<LedgerSettings> LedgerStore::settings() { return read_settings(*file_); }

OrError<void> LedgerStore::check() {
  const auto sound = quick_check(*file_);
  if (!sound) return sound;
  return visit([](const StoredEntry&) { return true; });
}

}  // namespace chipfall
