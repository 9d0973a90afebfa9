#include "core/ledger/salvage.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "core/ledger/store.h"

namespace chipfall {

namespace {

namespace fs = std::filesystem;

constexpr int kBusy_ms = 5000;
/// The least that an entry takes in the file; bounds how many there can be [c.p.].
constexpr std::int64_t kLeastRowBytes = 32;

Error refusal(const std::string& path, std::string message) {
  return {ErrorCode::kUnreadable, std::move(message), {path, 0, 0, ""}};
}

/// A database and the files that SQLite keeps beside it, removed when done.
class PassingCopy {
 public:
  explicit PassingCopy(std::string path) : path_(std::move(path)) {}
  PassingCopy(const PassingCopy&) = delete;
  PassingCopy& operator=(const PassingCopy&) = delete;
  ~PassingCopy() {
    std::error_code ignored;
    for (const char* ending : {"", "-wal", "-shm"}) fs::remove(path_ + ending, ignored);
  }

  OrError<void> take(const std::string& original) {
    std::error_code failure;
    fs::copy_file(original, path_, failure);
    if (!failure && fs::exists(original + "-wal", failure)) {
      fs::copy_file(original + "-wal", path_ + "-wal", failure);
    }
    if (!failure) return {};
    return tl::unexpected(refusal(
        original, fmt::format("could not copy the ledger to {}: {}; check that it can be read and "
                              "that there is room",
                              path_, failure.message())));
  }

  /// Bytes of the file and its log.
  std::int64_t size() const {
    std::error_code ignored;
    auto bytes = static_cast<std::int64_t>(fs::file_size(path_, ignored));
    if (fs::exists(path_ + "-wal", ignored)) {
      bytes += static_cast<std::int64_t>(fs::file_size(path_ + "-wal", ignored));
    }
    return std::max<std::int64_t>(bytes, 0);
  }

  const std::string& path() const { return path_; }

 private:
  std::string path_;
};

/// Row by row, since a scan would end at the first damaged page.
OrError<Salvaged> copy_rows(SqliteFile& from, SqliteFile& to, std::int64_t most_rows,
                            std::int64_t now_ms) {
  Salvaged result;
  const auto last = from.number_of("SELECT max(arrival) FROM entries");
  result.end_unknown = !last || *last < 0 || *last > most_rows;
  const std::int64_t end = result.end_unknown ? most_rows : *last;
  auto one = Statement::prepare(
      from, fmt::format("SELECT {} FROM entries WHERE arrival = ?1", kEntryColumns),
      "read an entry");
  if (!one) return tl::unexpected(one.error());
  auto insert = prepare_insert(to);
  if (!insert) return tl::unexpected(insert.error());

  HybridClock clock;
  std::int64_t last_copied = 0;
  for (std::int64_t arrival = 1; arrival <= end; ++arrival) {
    one->reset();
    const auto row = one->bind(1, arrival).step();
    if (!row || !*row) continue;
    const EntryRow entry = entry_at(*one);
    if (checksum_of(entry) != entry.checksum) continue;
    const auto added = insert_entry(to, *insert, entry);
    if (!added) return tl::unexpected(added.error());
    if (!*added) continue;
    clock.receive(entry.order.clock, now_ms);
    ++result.copied;
    last_copied = arrival;
  }
  result.lost = (result.end_unknown ? last_copied : end) - result.copied;
  const auto kept = store_clock(to, clock);
  if (!kept) return tl::unexpected(kept.error());
  return result;
}

}  // namespace

OrError<Salvaged> salvage(const std::string& path, const std::string& new_path,
                          const std::string& device, std::int64_t now_ms) {
  std::error_code ignored;
  if (fs::exists(new_path, ignored)) {
    return tl::unexpected(refusal(new_path, "there is a file already; choose a new name"));
  }
  PassingCopy copy(new_path + ".reading");
  const auto taken = copy.take(path);
  if (!taken) return tl::unexpected(taken.error());
  auto from = SqliteFile::open(copy.path(), false, kBusy_ms);
  if (!from) return tl::unexpected(from.error());
  const auto known = check_ledger_identity(*from);
  if (!known) return tl::unexpected(known.error());

  PassingCopy made(new_path + ".new");  // takes its name only when it is whole
  Salvaged result;
  {
    LedgerOptions options;
    options.device = device;
    const auto store = LedgerStore::open(made.path(), options);
    if (!store) return tl::unexpected(store.error());
    auto to = SqliteFile::open(made.path(), false, kBusy_ms);
    if (!to) return tl::unexpected(to.error());
    const auto set = apply_settings(*to, 0);
    if (!set) return tl::unexpected(set.error());
    auto transaction = WriteTransaction::begin(*to);
    if (!transaction) return tl::unexpected(transaction.error());
    const auto copied = copy_rows(*from, *to, copy.size() / kLeastRowBytes, now_ms);
    if (!copied) return tl::unexpected(copied.error());
    const auto committed = transaction->commit();
    if (!committed) return tl::unexpected(committed.error());
    result = *copied;
  }  // closing folds the log into the file
  std::error_code failure;
  fs::rename(made.path(), new_path, failure);
  if (!failure) return result;
  return tl::unexpected(refusal(
      new_path, fmt::format("could not name the salvaged ledger: {}; check that its folder may be "
                            "written to",
                            failure.message())));
}

}  // namespace chipfall
