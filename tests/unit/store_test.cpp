#include "core/ledger/store.h"

#include <algorithm>
#include <limits>
#include <random>

#include "tests/unit/ledger_folder.h"

namespace chipfall {
namespace {

TEST_CASE("a ledger runs in WAL with full sync, and its file says whose it is") {
  const LedgerFolder folder;
  LedgerStore store = ledger(folder.file("a"));
  const LedgerSettings settings = sure(store.settings());
  CHECK(settings.journal_mode == "wal");
  CHECK(settings.synchronous == 2);
  CHECK(settings.busy_ms == 5000);
  CHECK(settings.application_id == kLedgerApplicationId);
  CHECK(settings.version == kLedgerVersion);
  CHECK(store.device() == "phone");
}

TEST_CASE("what was appended is there after opening again, and the count goes on") {
  const LedgerFolder folder;
  std::vector<std::string> before;
  HybridTime last;
  {
    LedgerStore store = ledger(folder.file("a"));
    for (const char* text : {"one", "two", "three"}) {
      proto::Entry entry = note(text);
      sure(store.append(entry, kTestNow_ms));
      before.push_back(entry.SerializeAsString());
    }
    last = store.clock();
  }
  LedgerStore store = sure(LedgerStore::open(folder.file("a"), {}));
  CHECK(all_bytes(store) == before);
  proto::Entry next = note("four");
  sure(store.append(next, kTestNow_ms - 1'000'000));
  CHECK(next.device() == "phone");
  CHECK(next.sequence() == 4);
  CHECK(HybridTime{next.clock().wall_ms(), next.clock().counter()} > last);
  CHECK(sure(store.counts()).entries == 4);
}

TEST_CASE("two openings of one ledger never give the same sequence number twice") {
  const LedgerFolder folder;
  LedgerStore first = ledger(folder.file("a"));
  LedgerStore second = ledger(folder.file("a"));
  for (std::uint64_t round = 0; round < 3; ++round) {
    proto::Entry one = note("one");
    proto::Entry other = note("other");
    sure(first.append(one, kTestNow_ms));
    sure(second.append(other, kTestNow_ms));
    CHECK(one.sequence() == 2 * round + 1);
    CHECK(other.sequence() == 2 * round + 2);
    CHECK(other.clock().counter() == one.clock().counter() + 1);
  }
}

TEST_CASE("receiving twice counts once, and another entry by the same name is told apart") {
  const LedgerFolder folder;
  LedgerStore store = ledger(folder.file("a"), "hub");
  const std::string entry = sent("tablet", 5, {kTestNow_ms, 0}, "first");
  const std::string forged = sent("tablet", 5, {kTestNow_ms, 0}, "second");
  const std::vector<std::string> all = {entry, entry, forged};
  CHECK(sure(store.add_received(all, kTestNow_ms)) ==
        std::vector{Received::kNew, Received::kKnownSame, Received::kKnownDifferent});
  CHECK(sure(store.add_received(all, kTestNow_ms)) ==
        std::vector{Received::kKnownSame, Received::kKnownSame, Received::kKnownDifferent});
  CHECK(all_bytes(store) == std::vector{entry});
  CHECK(sure(store.highest_sequences()) == std::map<std::string, std::uint64_t>{{"tablet", 5}});
}

TEST_CASE("the same entries in any order of arrival are visited as the same bytes") {
  std::vector<std::string> entries;
  for (std::uint64_t i = 0; i < 30; ++i) {
    const HybridTime clock{kTestNow_ms + std::int64_t(i % 4), static_cast<std::uint32_t>(i % 3)};
    entries.push_back(sent(std::string(1, char(0x7e + i % 3)), i / 3 + 1, clock, "entry"));
  }
  std::mt19937 random(1);
  std::vector<std::string> first;
  for (int trial = 0; trial < 20; ++trial) {
    const LedgerFolder folder;
    LedgerStore store = ledger(folder.file("a"), "hub");
    std::shuffle(entries.begin(), entries.end(), random);
    const std::size_t cut = random() % entries.size();
    sure(store.add_received(std::span(entries).first(cut), kTestNow_ms));
    sure(store.add_received(entries, kTestNow_ms + trial));
    const std::vector<std::string> visited = all_bytes(store);
    CHECK(visited.size() == entries.size());
    if (first.empty()) first = visited;
    CHECK(visited == first);
  }
}

TEST_CASE("entries are visited in the order that EntryOrder gives them") {
  const LedgerFolder folder;
  LedgerStore store = ledger(folder.file("a"), "hub");
  std::vector<std::string> entries;
  for (const char* device : {"b", "\xff", "ab", "a"}) {
    for (const std::uint64_t sequence : {10, 2}) {
      entries.push_back(sent(device, sequence, {kTestNow_ms, 0}, ""));
      entries.push_back(sent(device, sequence + 100, {kTestNow_ms, 4'000'000'000}, ""));
    }
  }
  sure(store.add_received(entries, kTestNow_ms));
  std::vector<EntryOrder> orders;
  sure(store.visit([&](const StoredEntry& entry) {
    orders.push_back(entry.order);
    return true;
  }));
  CHECK(orders.size() == entries.size());
  CHECK(std::is_sorted(orders.begin(), orders.end()));
}

TEST_CASE("a kind of entry that this version does not know is kept byte for byte") {
  const LedgerFolder folder;
  proto::Entry entry;
  entry.set_device("tablet");
  entry.set_sequence(1);
  // Field 1000, length-delimited, placed before the known ones, as no serialiser here would.
  const std::string unknown("\xc2\x3e\x05later", 8);
  const std::string bytes = unknown + entry.SerializeAsString();
  {
    LedgerStore store = ledger(folder.file("a"), "hub");
    CHECK(sure(store.add_received(std::span(&bytes, 1), kTestNow_ms)).at(0) == Received::kNew);
  }
  LedgerStore store = ledger(folder.file("a"), "hub");
  CHECK(all_bytes(store) == std::vector{bytes});
  CHECK(sure(store.add_received(std::span(&bytes, 1), kTestNow_ms)).at(0) == Received::kKnownSame);
}

TEST_CASE("received bytes that are no entry are refused, and the rest of that call with them") {
  const LedgerFolder folder;
  LedgerStore store = ledger(folder.file("a"), "hub");
  const std::string good = sent("tablet", 1, {kTestNow_ms, 0}, "good");
  const auto far = std::uint64_t(std::numeric_limits<std::int64_t>::max()) + 1;
  for (const std::string& bad :
       {std::string("\xff\xff"), std::string(), sent("", 1, {}, ""), sent("tablet", 0, {}, ""),
        sent("tablet", far, {}, ""), sent(std::string(65, 'd'), 1, {}, ""),
        sent("tablet", 2, {}, std::string(kMostEntryBytes, 'x'))}) {
    const std::vector<std::string> both = {good, bad};
    const auto answer = store.add_received(both, kTestNow_ms);
    REQUIRE_FALSE(answer.has_value());
    CHECK(answer.error().place.file == folder.file("a"));
    CHECK(sure(store.counts()).entries == 0);
  }
}

TEST_CASE("an entry too large is refused and leaves entry and ledger as they were") {
  const LedgerFolder folder;
  LedgerStore store = ledger(folder.file("a"));
  std::vector<proto::Entry> entries = {note("fits"), note(std::string(kMostEntryBytes, 'x'))};
  const auto answer = store.append(entries, kTestNow_ms);
  REQUIRE_FALSE(answer.has_value());
  CHECK(answer.error().code == ErrorCode::kOutOfBounds);
  CHECK(entries[0].sequence() == 0);
  CHECK(sure(store.counts()).entries == 0);
  sure(store.append(entries[0], kTestNow_ms));
  CHECK(entries[0].sequence() == 1);
}

TEST_CASE("doubtful event times are kept and marked, and a far clock does not move ours") {
  const LedgerFolder folder;
  LedgerStore store = ledger(folder.file("a"));
  constexpr std::int64_t kDay_ms = 24 * 3'600'000;
  constexpr std::int64_t kYear_ms = 365 * kDay_ms;
  proto::Entry unset = note("woke in 1970");
  unset.set_event_utc_ms(12'345);
  sure(store.append(unset, kTestNow_ms));
  const std::string far = sent("tablet", 1, {kTestNow_ms + kYear_ms, 0}, "next year");
  sure(store.add_received(std::span(&far, 1), kTestNow_ms));
  CHECK(store.clock() == HybridTime{kTestNow_ms, 0});
  CHECK(all_bytes(store).back() == far);
  const std::string early = sent("tablet", 2, {kTestNow_ms, 0}, "two days ahead");
  sure(store.add_received(std::span(&early, 1), kTestNow_ms - 2 * kDay_ms));
  const LedgerCounts counts = sure(store.counts());
  CHECK(counts.entries == 3);
  CHECK(counts.devices == 2);
  CHECK(counts.doubtful == 2);
}

TEST_CASE("a received clock within the bound is before the next own entry, also after reopening") {
  const LedgerFolder folder;
  const HybridTime seen{kTestNow_ms + 60'000, 3};
  {
    LedgerStore store = ledger(folder.file("a"));
    const std::string bytes = sent("tablet", 1, seen, "seen");
    sure(store.add_received(std::span(&bytes, 1), kTestNow_ms));
  }
  LedgerStore store = ledger(folder.file("a"));
  proto::Entry answer = note("answer");
  sure(store.append(answer, kTestNow_ms));
  CHECK(HybridTime{answer.clock().wall_ms(), answer.clock().counter()} > seen);
}

TEST_CASE("a visitor that has seen enough ends the visit") {
  const LedgerFolder folder;
  LedgerStore store = ledger(folder.file("a"));
  std::vector<proto::Entry> entries(5, note("again"));
  sure(store.append(entries, kTestNow_ms));
  int visited = 0;
  sure(store.visit([&](const StoredEntry&) { return ++visited < 2; }));
  CHECK(visited == 2);
}

}  // namespace
}  // namespace chipfall
