#include "core/ledger/views.h"

#include <fmt/format.h>

#include <algorithm>
#include <memory>
#include <new>
#include <utility>

#include "core/ledger/view_fold.h"
#include "core/ledger/view_tables.h"

namespace chipfall {

namespace {

/// One transaction folds at most so much: a writer in another process waits for it, and it is held
/// in memory.
constexpr std::size_t kMostEntriesAtATime = 20'000;
constexpr std::size_t kMostBytesAtATime = 16 * 1024 * 1024;

struct Arrivals {
  std::unique_ptr<google::protobuf::Arena> arena = std::make_unique<google::protobuf::Arena>();
  std::vector<ArrivedEntry> entries;
  bool all = true;       ///< nothing arrived after them
  OrError<void> damage;  ///< an error behind them
};

Arrivals next_arrivals(LedgerStore& store, std::int64_t after) {
  Arrivals next;
  std::size_t bytes = 0;
  next.damage = store.visit_arrivals(after, [&](const StoredEntry& entry) {
    next.all = next.entries.size() < kMostEntriesAtATime && bytes < kMostBytesAtATime;
    if (!next.all) return false;
    bytes += entry.bytes.size();
    next.entries.push_back(arrived(*next.arena, entry.arrival, entry.order, entry.bytes));
    return true;
  });
  return next;
}

/// Pages kept in memory while many entries are folded, in KiB: with SQLite's 2 MB, pages were
/// written and read again several times in one transaction.
constexpr int kFoldCacheKib = 32 * 1024;
constexpr std::int64_t kManyEntries = 2'000;

/// While it lives, there is memory for folding many entries.
class LargeCache {
 public:
  LargeCache(SqliteFile& file, bool wanted) : file_(wanted ? &file : nullptr) {
    if (!file_) return;
    // Speed is all that hangs on it, so an error is none.
    before_ = file_->number_of("PRAGMA cache_size").value_or(0);
    if (before_ == 0) file_ = nullptr;
    if (file_) static_cast<void>(file_->run(fmt::format("PRAGMA cache_size = -{}", kFoldCacheKib)));
  }
  LargeCache(const LargeCache&) = delete;
  LargeCache& operator=(const LargeCache&) = delete;
  ~LargeCache() {
    try {
      if (file_) static_cast<void>(file_->run(fmt::format("PRAGMA cache_size = {}", before_)));
    } catch (const std::bad_alloc&) {  // a cache that stays large does no harm
    }
  }

 private:
  SqliteFile* file_;
  std::int64_t before_ = 0;
};

struct Step {
  std::int64_t position = 0;
  bool all = true;
};

/// One transaction of folding. What was readable before a damage is folded, then the damage told.
OrError<Step> fold_some(LedgerStore& store) {
  auto transaction = WriteTransaction::begin(store.file());
  if (!transaction) return tl::unexpected(transaction.error());
  // Asked inside the transaction: another process may have gone on.
  const auto position = view_position(store.file());
  if (!position) return tl::unexpected(position.error());
  if (*position == kViewsOutdated) return Step{*position, false};
  const Arrivals next = next_arrivals(store, *position);
  Step step{*position, next.all};
  if (!next.entries.empty()) {
    auto fold = ViewFold::prepare(store.file());
    if (!fold) return tl::unexpected(fold.error());
    const auto added = fold->add(next.entries, *position);
    if (!added) return tl::unexpected(added.error());
    step.position = next.entries.back().arrival;
    const auto kept = store_view_position(store.file(), step.position);
    if (!kept) return tl::unexpected(kept.error());
  }
  const auto committed = transaction->commit();
  if (!committed) return tl::unexpected(committed.error());
  if (!next.damage) return tl::unexpected(next.damage.error());
  return step;
}

}  // namespace

OrError<Views> Views::open(LedgerStore& store, const Progress& progress) {
  const auto fit = view_tables_fit(store.file());
  Views views(store);
  // Tables that cannot even be read are made anew like those of another program.
  const auto ready = fit && *fit ? views.catch_up(progress) : views.rebuild(progress);
  if (!ready) return tl::unexpected(ready.error());
  return views;
}

OrError<void> Views::catch_up(const Progress& progress) {
  const auto all = store_->last_arrival();
  if (!all) return tl::unexpected(all.error());
  const auto position = view_position(store_->file());
  if (!position) return tl::unexpected(position.error());
  if (*position == kViewsOutdated) return rebuild(progress);
  if (*position == *all) return {};
  const LargeCache cache(store_->file(), *all - *position > kManyEntries);
  while (true) {
    const auto step = fold_some(*store_);
    if (!step) return tl::unexpected(step.error());
    if (step->position == kViewsOutdated) return rebuild(progress);
    if (progress) progress(step->position, std::max(*all, step->position));
    if (step->all) return {};
  }
}

OrError<void> Views::rebuild(const Progress& progress) {
  const auto made = make_view_tables(store_->file());
  if (!made) return made;
  return catch_up(progress);
}

OrError<std::int64_t> Views::unknown_entries() {
  return store_->file().number_of(
      fmt::format("SELECT count(*) FROM view_facts WHERE kind = {}", kUnknownKind));
}

}  // namespace chipfall
