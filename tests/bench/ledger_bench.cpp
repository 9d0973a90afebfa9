#include <benchmark/benchmark.h>
#include <fmt/format.h>
#include <sqlite3.h>
#include <unistd.h>

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <optional>

#include "core/ledger/store.h"

/// Durable appends beside bare SQLite, on the same disk, by turns: disks are moody, so only what is
/// measured side by side can be compared. `ratio` is bare time over ledger's: 1 is as fast.
///
/// The bare ones have the ledger's settings (WAL, synchronous=FULL), one prepared INSERT and a blob
/// of the entry's length. `bare`: one table, rowid and blob, no other index. `bare_indexed`: the
/// ledger's columns and both its indexes, which is what names and order cost.
using namespace chipfall;

namespace {

namespace fs = std::filesystem;

constexpr std::int64_t kNow_ms = 1'780'000'000'000;  // in 2026
constexpr int kManyEntries = 200'000;
constexpr int kBatch = 100;

template <typename T>
T sure(OrError<T> result) {
  if (!result) {
    fmt::print(stderr, "{}\n", result.error().text());
    std::abort();
  }
  if constexpr (!std::is_void_v<T>) return std::move(*result);
}

class Folder {
 public:
  Folder() : path_((fs::temp_directory_path() / "chipfall-bench-XXXXXX").string()) {
    if (::mkdtemp(path_.data()) == nullptr) std::abort();
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  ~Folder() {
    std::error_code ignored;
    fs::remove_all(path_, ignored);
  }
  std::string file(const char* name) const { return path_ + "/" + name; }

 private:
  std::string path_;
};

proto::Entry some_entry(std::int64_t turn) {
  proto::Entry entry;
  entry.set_event_utc_ms(kNow_ms + turn);
  entry.set_member("member 17");
  auto& done = *entry.mutable_duty_done();
  done.mutable_duty()->set_id(fmt::format("sweep-zone:{}", turn % 40));
  done.mutable_duty()->mutable_session()->set_device("0123456789abcdef");
  done.mutable_duty()->mutable_session()->set_sequence(static_cast<std::uint64_t>(turn));
  done.set_minutes(3.5);
  done.set_kind("zone");
  done.set_estimated_minutes(4.0);
  return entry;
}

LedgerStore ledger(const std::string& path) {
  LedgerOptions options;
  options.device = "0123456789abcdef";
  return sure(LedgerStore::open(path, options));
}

/// SQLite and one prepared INSERT.
class Bare {
 public:
  Bare(const std::string& path, bool indexed, std::size_t bytes)
      : file_(sure(SqliteFile::open(path, true, 5000))), indexed_(indexed), blob_(bytes, 'b') {
    sure(apply_settings(file_, 0));
    sure(file_.run(indexed ? "CREATE TABLE entries (arrival INTEGER PRIMARY KEY, device BLOB,"
                             " sequence INTEGER, wall_ms INTEGER, counter INTEGER,"
                             " received_ms INTEGER, doubt INTEGER, bytes BLOB, checksum INTEGER,"
                             " UNIQUE (device, sequence)) STRICT;"
                             "CREATE INDEX in_order ON entries"
                             " (wall_ms, counter, device, sequence);"
                           : "CREATE TABLE entries (arrival INTEGER PRIMARY KEY, bytes BLOB)"));
    insert_.emplace(sure(Statement::prepare(
        file_,
        indexed ? "INSERT INTO entries VALUES (NULL, ?2, ?3, ?4, 0, ?4, 0, ?1, 12345)"
                : "INSERT INTO entries VALUES (NULL, ?1)",
        "insert")));
    begin_.emplace(sure(Statement::prepare(file_, "BEGIN IMMEDIATE", "begin")));
    commit_.emplace(sure(Statement::prepare(file_, "COMMIT", "commit")));
  }

  void insert(int rows) {
    if (rows > 1) sure(begin_->finish());
    for (int i = 0; i < rows; ++i) {
      insert_->bind_bytes(1, blob_);
      if (indexed_) {
        ++sequence_;
        insert_->bind_bytes(2, "0123456789abcdef").bind(3, sequence_).bind(4, kNow_ms + sequence_);
      }
      sure(insert_->finish());
    }
    if (rows > 1) sure(commit_->finish());
  }

 private:
  SqliteFile file_;
  bool indexed_;
  std::string blob_;
  std::int64_t sequence_ = 0;
  std::optional<Statement> insert_, begin_, commit_;
};

template <typename Work>
double seconds_of(const Work& work) {
  const auto start = std::chrono::steady_clock::now();
  work();
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

/// One call of the ledger and one of each bare variant, in an order that turns.
void append_beside_bare(benchmark::State& state) {
  const int rows = static_cast<int>(state.range(0));
  const Folder folder;
  LedgerStore store = ledger(folder.file("ledger"));
  proto::Entry sample = some_entry(1);
  sure(store.append(sample, kNow_ms));
  Bare bare(folder.file("bare"), false, sample.ByteSizeLong());
  Bare indexed(folder.file("indexed"), true, sample.ByteSizeLong());

  double seconds[3] = {0, 0, 0};
  std::int64_t turn = 0;
  for (auto _ : state) {
    std::vector<proto::Entry> entries;
    for (int i = 0; i < rows; ++i) entries.push_back(some_entry(turn * rows + i));
    for (int who = 0; who < 3; ++who) {
      const auto now = (turn + who) % 3;
      seconds[now] += seconds_of([&] {
        if (now == 0) sure(store.append(entries, kNow_ms + turn));
        if (now == 1) bare.insert(rows);
        if (now == 2) indexed.insert(rows);
      });
    }
    ++turn;
  }
  const double calls = static_cast<double>(turn);
  state.counters["ledger_us"] = 1e6 * seconds[0] / calls;
  state.counters["bare_us"] = 1e6 * seconds[1] / calls;
  state.counters["bare_indexed_us"] = 1e6 * seconds[2] / calls;
  state.counters["ratio"] = seconds[1] / seconds[0];
  state.counters["ratio_indexed"] = seconds[2] / seconds[0];
}
BENCHMARK(append_beside_bare)->ArgName("entries")->Arg(1)->Iterations(2000);
BENCHMARK(append_beside_bare)->ArgName("entries")->Arg(kBatch)->Iterations(300);

/// Made once: a ledger of many entries.
const std::string& large_ledger() {
  static const Folder folder;
  static const std::string path = [] {
    std::string made = folder.file("large");
    LedgerStore store = ledger(made);
    constexpr int kAtOnce = kMostEntriesAtOnce;
    for (int at = 0; at < kManyEntries; at += kAtOnce) {
      std::vector<proto::Entry> entries;
      for (int i = at; i < at + kAtOnce; ++i) entries.push_back(some_entry(i));
      sure(store.append(entries, kNow_ms + at));
    }
    return made;
  }();
  return path;
}

void open_large_ledger(benchmark::State& state) {
  const std::string path = large_ledger();
  for (auto _ : state) benchmark::DoNotOptimize(ledger(path));
}
BENCHMARK(open_large_ledger)->Unit(benchmark::kMillisecond);

void visit_large_ledger(benchmark::State& state) {
  LedgerStore store = ledger(large_ledger());
  const bool by_arrival = state.range(0) == 1;
  for (auto _ : state) {
    std::int64_t visited = 0;
    const auto count = [&](const StoredEntry&) { return ++visited > 0; };
    sure(by_arrival ? store.visit_arrivals(0, count) : store.visit(count));
    if (visited != kManyEntries) std::abort();
  }
}
BENCHMARK(visit_large_ledger)->ArgName("by_arrival")->Arg(0)->Arg(1)->Unit(benchmark::kMillisecond);

}  // namespace
