#include <doctest/doctest.h>
#include <fmt/format.h>

#include "tests/unit/ledger_folder.h"

using namespace chipfall;

namespace {

std::vector<std::int64_t> arrivals(LedgerStore& store, std::int64_t after = 0) {
  std::vector<std::int64_t> found;
  sure(store.visit_arrivals(after, [&](const StoredEntry& entry) {
    found.push_back(entry.arrival);
    return true;
  }));
  return found;
}

std::vector<std::uint64_t> sequences(LedgerStore& store, const std::string& device,
                                     std::uint64_t after) {
  std::vector<std::uint64_t> found;
  sure(store.visit_device(device, after, [&](const StoredEntry& entry) {
    CHECK(entry.order.device == device);
    found.push_back(entry.order.sequence);
    return true;
  }));
  return found;
}

}  // namespace

TEST_CASE("arrivals count from one without gaps, also past repeats and refused calls") {
  const LedgerFolder folder;
  LedgerStore store = ledger(folder.file("a"));
  CHECK(sure(store.last_arrival()) == 0);
  proto::Entry own = note("own");
  sure(store.append(own, kTestNow_ms));
  const std::vector<std::string> others{sent("tablet", 1, {kTestNow_ms - 9, 0}, "one"),
                                        sent("tablet", 2, {kTestNow_ms - 8, 0}, "two")};
  sure(store.add_received(others, kTestNow_ms));
  sure(store.add_received(others, kTestNow_ms));  // told twice
  CHECK_FALSE(store.add_received(std::vector<std::string>{"no entry"}, kTestNow_ms).has_value());
  own = note("own again");
  sure(store.append(own, kTestNow_ms));
  CHECK(arrivals(store) == std::vector<std::int64_t>{1, 2, 3, 4});
  CHECK(arrivals(store, 2) == std::vector<std::int64_t>{3, 4});
  CHECK(arrivals(store, 4).empty());
  CHECK(sure(store.last_arrival()) == 4);
}

TEST_CASE("a late entry comes last by arrival, though first in the ledger's order") {
  const LedgerFolder folder;
  LedgerStore store = ledger(folder.file("a"));
  proto::Entry own = note("own");
  sure(store.append(own, kTestNow_ms));
  const std::string late = sent("tablet", 1, {kTestNow_ms - 1000, 0}, "late");
  sure(store.add_received(std::vector<std::string>{late}, kTestNow_ms));
  CHECK(all_bytes(store).front() == late);
  std::string last;
  sure(store.visit_arrivals(0, [&](const StoredEntry& entry) {
    last = std::string(entry.bytes);
    return true;
  }));
  CHECK(last == late);
}

TEST_CASE("one device's entries are visited by sequence, from where one stopped") {
  const LedgerFolder folder;
  LedgerStore store = ledger(folder.file("a"));
  std::vector<std::string> others;
  for (const std::uint64_t sequence : {7, 3, 5}) {
    others.push_back(sent("tablet", sequence, {kTestNow_ms, 0}, fmt::format("{}", sequence)));
  }
  sure(store.add_received(others, kTestNow_ms));
  proto::Entry own = note("own");
  sure(store.append(own, kTestNow_ms));
  CHECK(sequences(store, "tablet", 0) == std::vector<std::uint64_t>{3, 5, 7});
  CHECK(sequences(store, "tablet", 5) == std::vector<std::uint64_t>{7});
  CHECK(sequences(store, "tablet", ~std::uint64_t{0}).empty());
  CHECK(sequences(store, "nobody", 0).empty());
}

TEST_CASE("an entry is found by its name, and one that is not here is not") {
  const LedgerFolder folder;
  LedgerStore store = ledger(folder.file("a"));
  proto::Entry own = note("own");
  sure(store.append(own, kTestNow_ms));
  CHECK(sure(store.bytes_of("phone", 1)) == own.SerializeAsString());
  CHECK_FALSE(sure(store.bytes_of("phone", 0)).has_value());
  CHECK_FALSE(sure(store.bytes_of("phone", 2)).has_value());
  CHECK_FALSE(sure(store.bytes_of("tablet", 1)).has_value());
}

TEST_CASE("the epoch is empty until it is set, and stays over opening again") {
  const LedgerFolder folder;
  {
    LedgerStore store = ledger(folder.file("a"));
    CHECK(sure(store.epoch()).empty());
    sure(store.set_epoch(std::string("\0\1\2", 3)));
  }
  LedgerStore again = ledger(folder.file("a"));
  CHECK(sure(again.epoch()) == std::string("\0\1\2", 3));
}
