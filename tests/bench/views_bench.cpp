#include <benchmark/benchmark.h>
#include <fmt/format.h>
#include <unistd.h>

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include "core/ledger/views.h"

using namespace chipfall;

namespace {

constexpr std::int64_t kStart_ms = 1'700'000'000'000;
constexpr std::int64_t kEntries = 200'000;

template <typename T>
T sure(OrError<T> result) {
  if (!result) {
    fmt::print(stderr, "{}\n", result.error().text());
    std::abort();
  }
  if constexpr (!std::is_void_v<T>) return std::move(*result);
}

double ms_since(std::chrono::steady_clock::time_point begin) {
  const std::chrono::duration<double, std::milli> took = std::chrono::steady_clock::now() - begin;
  return took.count();
}

/// Entries of 40 phones as years of evenings make them: a list of ten duties, most of them done,
/// some passed on, a bin seen, a clock measured now and then.
class Years {
 public:
  explicit Years(LedgerStore& store) : store_(&store) {
    for (int evening = 0; told_ < kEntries; ++evening) tell_evening(evening);
    flush();
  }

 private:
  void tell_evening(int evening) {
    phone_ = fmt::format("phone of a member {:02}", evening * 7 % 40);
    at_ms_ = kStart_ms + evening * 3'600'000LL;
    if (evening % 5 == 0) {
      proto::Entry entry;
      entry.mutable_clock_measured()->set_ahead_ms(evening % 90 * 1000);
      tell(entry);
    }
    proto::Entry session;
    for (int i = 0; i < 10; ++i) {
      proto::DutyOwed& owed = *session.mutable_session_ended()->add_owed();
      owed.set_id(duty(evening, i));
      owed.set_title("Clean around the machine and under the bench");
      owed.set_kind("zone");
      owed.set_minutes(4);
      owed.set_weight(0.1);
      owed.set_place("by the window");
    }
    const std::uint64_t list = tell(session);
    for (int i = 0; i < 9; ++i) end_duty(evening, i, list);
    proto::Entry seen;
    seen.mutable_bin_seen()->set_bin(fmt::format("bin-{}", evening % 12));
    seen.mutable_bin_seen()->set_seen("half");
    tell(seen);
  }

  void end_duty(int evening, int i, std::uint64_t list) {
    proto::Entry entry;
    const bool passed_on = (evening + i) % 11 == 0;
    proto::DutyName& name = passed_on ? *entry.mutable_duty_passed_on()->mutable_duty()
                                      : *entry.mutable_duty_done()->mutable_duty();
    name.set_id(duty(evening, i));
    name.mutable_session()->set_device(phone_);
    name.mutable_session()->set_sequence(list);
    if (!passed_on) entry.mutable_duty_done()->set_minutes(4);
    tell(entry);
  }

  static std::string duty(int evening, int i) {
    return fmt::format("zone:zone-{}", (evening * 3 + i * 7) % 60);
  }

  std::uint64_t tell(proto::Entry& entry) {
    at_ms_ += 60'000;
    const std::uint64_t sequence = ++sequences_[phone_];
    entry.set_device(phone_);
    entry.set_sequence(sequence);
    entry.mutable_clock()->set_wall_ms(at_ms_);
    entry.set_event_utc_ms(at_ms_);
    entry.set_member("member");
    sent_.push_back(entry.SerializeAsString());
    ++told_;
    if (sent_.size() == kMostEntriesAtOnce) flush();
    return sequence;
  }

  void flush() {
    sure(store_->add_received(sent_, at_ms_));
    sent_.clear();
  }

  LedgerStore* store_;
  std::map<std::string, std::uint64_t> sequences_;
  std::vector<std::string> sent_;
  std::string phone_;
  std::int64_t at_ms_ = 0;
  std::int64_t told_ = 0;
};

/// One ledger of 200,000 entries for all benchmarks here, made on first use, gone at the end.
class Folder {
 public:
  static const std::string& ledger() {
    static const Folder folder;
    return folder.file_;
  }

 private:
  Folder() {
    std::string name = (std::filesystem::temp_directory_path() / "chipfall-bench-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) std::abort();
    path_ = name;
    file_ = path_ + "/hub.ledger";
    LedgerStore store = open();
    Years years(store);
  }
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  LedgerStore open() const {
    LedgerOptions options;
    options.device = "hub";
    return sure(LedgerStore::open(file_, options));
  }

  std::string path_;
  std::string file_;
};

LedgerStore open_store() { return sure(LedgerStore::open(Folder::ledger(), {})); }

/// Folding everything from nothing, beside visiting and reading (parsing) the same entries.
void fold_all(benchmark::State& state) {
  LedgerStore store = open_store();
  double folding_ms = 0;
  double visiting_ms = 0;
  for (auto _ : state) {
    auto begin = std::chrono::steady_clock::now();
    std::int64_t notes = 0;
    sure(store.visit_arrivals(0, [&](const StoredEntry& stored) {
      proto::Entry entry;
      notes += entry.ParseFromArray(stored.bytes.data(), static_cast<int>(stored.bytes.size())) &&
               entry.has_note();
      return true;
    }));
    benchmark::DoNotOptimize(notes);
    visiting_ms += ms_since(begin);
    begin = std::chrono::steady_clock::now();
    Views views = sure(Views::open(store));
    sure(views.rebuild());
    folding_ms += ms_since(begin);
  }
  state.counters["entries"] = static_cast<double>(sure(store.counts()).entries);
  state.counters["fold_ms"] = folding_ms / static_cast<double>(state.iterations());
  state.counters["times_visiting"] = folding_ms / visiting_ms;
}
BENCHMARK(fold_all)->Unit(benchmark::kMillisecond)->Iterations(3);

/// Opening the file and its views when everything was folded before.
void open_folded(benchmark::State& state) {
  {
    LedgerStore store = open_store();
    sure(Views::open(store));
  }
  for (auto _ : state) {
    LedgerStore store = open_store();
    Views views = sure(Views::open(store));
    benchmark::DoNotOptimize(&views);
  }
}
BENCHMARK(open_folded)->Unit(benchmark::kMillisecond);

/// What an evening asks: what stands, which machines are out, the month's sessions and bins.
void ask_evening(benchmark::State& state) {
  LedgerStore store = open_store();
  Views views = sure(Views::open(store));
  const std::int64_t month_ms = sure(views.sessions()).back().told.at_ms - 30LL * 86'400'000;
  std::size_t standing = 0;
  for (auto _ : state) {
    standing = sure(views.standing()).size();
    benchmark::DoNotOptimize(sure(views.machines_out()));
    benchmark::DoNotOptimize(sure(views.sessions(month_ms)));
    benchmark::DoNotOptimize(sure(views.bins(month_ms)));
  }
  state.counters["standing"] = static_cast<double>(standing);
}
BENCHMARK(ask_evening)->Unit(benchmark::kMillisecond);

/// All duties ever done, with what their sessions listed: what learning reads.
void ask_all_done(benchmark::State& state) {
  LedgerStore store = open_store();
  Views views = sure(Views::open(store));
  std::size_t done = 0;
  for (auto _ : state) done = sure(views.done()).size();
  state.counters["done"] = static_cast<double>(done);
}
BENCHMARK(ask_all_done)->Unit(benchmark::kMillisecond)->Iterations(2);

}  // namespace
