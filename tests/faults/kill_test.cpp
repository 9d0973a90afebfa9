#include <fcntl.h>
#include <fmt/format.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cstring>
#include <filesystem>
#include <random>

#include "tests/faults/effort.h"
#include "tests/faults/promises.h"
#include "tests/unit/ledger_folder.h"

/// A process that writes to a ledger is killed at random moments; everything it reported must be in
/// the file, exactly once, and nothing by half. Kills do not lose what the system holds in memory,
/// so the files may lie in memory: what a power cut does is power_cut_test.cpp's.
namespace chipfall {
namespace {

namespace fs = std::filesystem;

constexpr int kKillsOfOneLedger = 20;
constexpr int kLatestKill_us = 7000;
constexpr int kMostInABatch = 6;
constexpr int kPipeBytes = 1 << 20;        ///< so that the writer never waits for the reader
constexpr std::size_t kMostReport = 4096;  ///< what a pipe takes as a whole or not at all

/// The writer: opens, appends one by one and in batches, closes, and again, for ever.
[[noreturn]] void write_for_ever(const std::string& path, int first_batch, int report_to,
                                 std::uint64_t seed) {
  std::mt19937_64 random(seed);
  std::int64_t now_ms = kTestNow_ms;
  int batch = first_batch;
  while (true) {
    auto store = LedgerStore::open(path, of_device("phone"));
    if (!store || !store->file().run("PRAGMA wal_autocheckpoint = 24")) ::_exit(2);
    for (auto calls = 1 + random() % 30; calls > 0; --calls) {
      const int size = random() % 3 == 0 ? 1 + static_cast<int>(random() % kMostInABatch) : 1;
      std::vector<proto::Entry> entries;
      for (int place = 0; place < size; ++place) {
        entries.push_back(note(std::string(random() % 200, 'n')));
        entries.back().set_member(make_tag({batch, place, size}));
      }
      ++batch;
      if (!store->append(entries, ++now_ms)) ::_exit(3);
      std::string report;
      for (const proto::Entry& entry : entries) {
        const std::string bytes = entry.SerializeAsString();
        const auto length = static_cast<std::uint16_t>(bytes.size());
        report.append(reinterpret_cast<const char*>(&length), sizeof length).append(bytes);
      }
      if (report.size() > kMostReport) ::_exit(4);
      if (::write(report_to, report.data(), report.size()) < 0) ::_exit(5);
    }
  }
}

std::string read_all(int from) {
  std::string all;
  std::array<char, 65536> part;
  for (auto got = ::read(from, part.data(), part.size()); got > 0;
       got = ::read(from, part.data(), part.size())) {
    all.append(part.data(), static_cast<std::size_t>(got));
  }
  return all;
}

std::vector<std::string> entries_of(const std::string& reports) {
  std::vector<std::string> entries;
  std::size_t at = 0;
  while (at < reports.size()) {
    std::uint16_t length = 0;
    std::memcpy(&length, reports.data() + at, sizeof length);
    entries.push_back(reports.substr(at + sizeof length, length));
    at += sizeof length + length;
  }
  return entries;
}

/// Starts a writer, kills it after that long, and says what it had reported.
std::vector<std::string> write_and_kill(const std::string& path, int first_batch, int kill_after_us,
                                        std::uint64_t seed) {
  int ends[2];
  REQUIRE(::pipe2(ends, O_CLOEXEC) == 0);
  (void)::fcntl(ends[1], F_SETPIPE_SZ, kPipeBytes);
  const pid_t writer = ::fork();
  REQUIRE(writer >= 0);
  if (writer == 0) {
    ::prctl(PR_SET_PDEATHSIG, SIGKILL);  // a test that is stopped leaves no writer behind
    ::close(ends[0]);
    write_for_ever(path, first_batch, ends[1], seed);
  }
  ::close(ends[1]);
  ::usleep(static_cast<useconds_t>(kill_after_us));
  ::kill(writer, SIGKILL);
  int status = 0;
  REQUIRE(::waitpid(writer, &status, 0) == writer);
  CHECK(WIFSIGNALED(status));  // it was killed, and had not stopped because of an error
  const std::string reports = read_all(ends[0]);
  ::close(ends[0]);
  return entries_of(reports);
}

/// In memory where the system has such a folder: 2,000 ledgers' syncs would take minutes on a disk.
void keep_folders_in_memory() {
  if (fs::exists("/dev/shm")) ::setenv("TMPDIR", "/dev/shm", 1);
}

TEST_CASE(
    "a writer killed at any moment has lost nothing that it reported, and left nothing half") {
  keep_folders_in_memory();
  std::mt19937_64 random(4);
  std::int64_t kills_after_a_report = 0;
  std::int64_t logs_left = 0;
  std::int64_t entries = 0;
  std::int64_t found_unreported = 0;
  for (int kill = 0; kill < kKills;) {
    const LedgerFolder folder;
    const std::string path = folder.file("a");
    Promises promises("phone");
    int first_batch = 1;
    for (int i = 0; i < kKillsOfOneLedger && kill < kKills; ++i, ++kill) {
      const int after_us = static_cast<int>(random() % kLatestKill_us);
      const auto reported = write_and_kill(path, first_batch, after_us, random());
      promises.saved(reported);
      kills_after_a_report += !reported.empty();
      logs_left += fs::exists(path + "-wal") && fs::file_size(path + "-wal") > 0;
      // One more call than was reported may have been on its way.
      for (const std::string& bytes : reported) {
        proto::Entry entry;
        REQUIRE(entry.ParseFromString(bytes));
        first_batch = std::max(first_batch, read_tag(entry.member())->batch + 1);
      }
      promises.allow_batches(first_batch);
      ++first_batch;
      LedgerStore store = ledger(path);
      for (const std::string& problem : promises.broken(store)) {
        FAIL_CHECK(fmt::format("kill {} after {} us: {}", kill, after_us, problem));
      }
    }
    entries += static_cast<std::int64_t>(promises.saved_entries());
    found_unreported += promises.found_unreported();
  }
  MESSAGE(
      fmt::format("{} kills, {} after a report, {} with a log left; {} entries, {} of them "
                  "found though not reported",
                  kKills, kills_after_a_report, logs_left, entries, found_unreported));
  // Far below what a quiet machine gives: a busy one starts the writer late.
  CHECK(kills_after_a_report * 10 > kKills);
  CHECK(logs_left * 20 > kKills);
  CHECK(entries > kKills);
  CHECK(found_unreported > 0);
}

}  // namespace
}  // namespace chipfall
