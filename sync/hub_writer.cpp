#include "sync/hub_writer.h"

#include <fmt/format.h>

#include <chrono>
#include <map>

namespace chipfall {

namespace {

std::int64_t bytes_in(const Offer& offer) {
  std::size_t bytes = 0;
  for (const std::string& entry : offer.entries) bytes += entry.size();
  return static_cast<std::int64_t>(bytes);
}

}  // namespace

HubWriter::HubWriter(HubCounts& counts, HubJournal& journal, DiskReserve& reserve,
                     std::function<std::int64_t()> utc_ms)
    : counts_(counts), journal_(journal), reserve_(reserve), utc_ms_(std::move(utc_ms)) {
  thread_ = std::thread([this] { run(); });
}

void HubWriter::take(Job job) {
  counts_.backlog_bytes += bytes_in(job.offer);
  {
    const std::lock_guard lock(lock_);
    waiting_.push_back(std::move(job));
  }
  changed_.notify_one();
}

void HubWriter::look_after(SqliteHubLog* log) {
  const std::lock_guard lock(lock_);
  logs_.push_back(log);
}

void HubWriter::finish() {
  {
    const std::lock_guard lock(lock_);
    finishing_ = true;
  }
  changed_.notify_one();
  if (thread_.joinable()) thread_.join();
}

/// False when everything is done and no more will come.
bool HubWriter::wait_for_work(std::vector<Job>& work) {
  std::unique_lock lock(lock_);
  changed_.wait_for(lock, std::chrono::milliseconds(kQuiet_ms),
                    [this] { return finishing_ || !waiting_.empty(); });
  std::size_t entries = 0;
  while (!waiting_.empty() && entries < kMostEntriesOfCommit) {
    entries += waiting_.front().offer.entries.size();
    work.push_back(std::move(waiting_.front()));
    waiting_.pop_front();
  }
  return !work.empty() || !finishing_;
}

void HubWriter::run() {
  std::vector<Job> work;
  while (wait_for_work(work)) {
    if (work.empty()) {
      fold_all();
      continue;
    }
    folded_ = false;
    std::map<SqliteHubLog*, std::vector<Job>> by_log;
    for (Job& job : work) by_log[job.log].push_back(std::move(job));
    work.clear();
    for (auto& [log, jobs] : by_log) commit(*log, std::move(jobs));
  }
  folded_ = false;
  fold_all();
}

void HubWriter::commit(SqliteHubLog& log, std::vector<Job> jobs) {
  std::vector<Offer> offers;
  for (Job& job : jobs) offers.push_back(std::move(job.offer));
  const auto began = std::chrono::steady_clock::now();
  auto verdicts = commit_where_room(log, offers);
  const auto took = std::chrono::steady_clock::now() - began;
  if (verdicts) {
    counts_.committed(std::chrono::duration_cast<std::chrono::microseconds>(took).count());
    count(*verdicts);
  } else {
    ++counts_.commit_failures;
    journal_.warning("commit_failed", {{"why", verdicts.error().text()}});
  }
  for (std::size_t i = 0; i < jobs.size(); ++i) {
    counts_.backlog_bytes -= bytes_in(offers[i]);
    if (verdicts) {
      jobs[i].stored(offers[i].ticket, std::move((*verdicts)[i]));
    } else {
      jobs[i].stored(offers[i].ticket, tl::unexpected(verdicts.error()));
    }
  }
}

OrError<std::vector<Verdicts>> HubWriter::commit_where_room(SqliteHubLog& log,
                                                            std::span<const Offer> offers) {
  if (!reserve_.ready()) {
    counts_.disk_full = 1;
    return tl::unexpected(
        Error{ErrorCode::kOutOfBounds,
              "the hub's disk is full: nothing was stored; what was stored before is safe. Free "
              "some space there; the phones then try again by themselves",
              {log.path(), 0, 0, ""}});
  }
  if (counts_.disk_full.exchange(0) != 0) journal_.info("disk_has_room");
  auto verdicts = log.commit(offers, utc_ms_());
  if (!verdicts && log.disk_full()) {
    reserve_.release();
    counts_.disk_full = 1;
    journal_.warning("disk_full", {{"free_bytes", std::to_string(reserve_.free_bytes())}});
  }
  return verdicts;
}

void HubWriter::count(const std::vector<Verdicts>& verdicts) {
  std::array<std::int64_t, 5> found{};
  for (const Verdicts& of_offer : verdicts) {
    for (const proto::Verdict verdict : of_offer) ++found[static_cast<std::size_t>(verdict)];
  }
  counts_.entries_new += found[proto::VERDICT_NEW];
  counts_.entries_known += found[proto::VERDICT_KNOWN_SAME];
  counts_.entries_different += found[proto::VERDICT_KNOWN_DIFFERENT];
  counts_.entries_refused += found[proto::VERDICT_REFUSED];
}

void HubWriter::fold_all() {
  if (std::exchange(folded_, true)) return;
  std::vector<SqliteHubLog*> logs;
  {
    const std::lock_guard lock(lock_);
    logs = logs_;
  }
  for (SqliteHubLog* log : logs) {
    if (log->wal_bytes() == 0) continue;
    const auto done = log->fold_wal();
    folded_ =
        folded_ && done.has_value() && log->wal_bytes() == 0;  // else in the next quiet second
  }
}

}  // namespace chipfall
