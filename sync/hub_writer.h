#pragma once

#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <thread>
#include <vector>

#include "sync/hub_counts.h"
#include "sync/hub_journal.h"
#include "sync/hub_reserve.h"
#include "sync/hub_store.h"

/// The one thread that writes entries.
///
/// While a commit is on its way to the disk, the offers of all connections gather; the next commit
/// takes them together. So a lone phone waits for one sync of the disk, and a crowd shares it.
namespace chipfall {

/// Entries of one commit: bounds how long the first phone of a crowd waits for the last [c.p.].
constexpr std::size_t kMostEntriesOfCommit = 20'000;
/// After this long without offers the logs are folded, so that they are short when power fails.
constexpr std::int64_t kQuiet_ms = 1'000;

class HubWriter {
 public:
  /// The answer to one offer, given on the writer's thread; the receiver passes it on to its own.
  using Stored = std::function<void(std::uint64_t ticket, OrError<Verdicts> verdicts)>;

  struct Job {
    SqliteHubLog* log = nullptr;
    Offer offer;
    Stored stored;
  };

  /// `utc_ms` is the wall clock. All arguments outlive the writer.
  HubWriter(HubCounts& counts, HubJournal& journal, DiskReserve& reserve,
            std::function<std::int64_t()> utc_ms);
  ~HubWriter() { finish(); }

  void take(Job job);
  /// A log that is to be folded in quiet moments; it outlives the writer.
  void look_after(SqliteHubLog* log);
  /// Stores what was taken, folds the logs and ends the thread.
  void finish();

 private:
  void run();
  bool wait_for_work(std::vector<Job>& work);
  void commit(SqliteHubLog& log, std::vector<Job> jobs);
  OrError<std::vector<Verdicts>> commit_where_room(SqliteHubLog& log,
                                                   std::span<const Offer> offers);
  void count(const std::vector<Verdicts>& verdicts);
  void fold_all();

  HubCounts& counts_;
  HubJournal& journal_;
  DiskReserve& reserve_;
  std::function<std::int64_t()> utc_ms_;

  std::mutex lock_;
  std::condition_variable changed_;
  std::deque<Job> waiting_;
  std::vector<SqliteHubLog*> logs_;
  bool finishing_ = false;
  bool folded_ = true;
  std::thread thread_;
};

}  // namespace chipfall
