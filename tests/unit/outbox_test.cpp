#include <doctest/doctest.h>
#include <sqlite3.h>

#include "sync/device_state.h"
#include "tests/unit/ledger_folder.h"

namespace chipfall {
namespace {

constexpr int kStepsInOneCall = 100;  // of SQLite's virtual machine

int count_call(void* calls) {
  ++*static_cast<int*>(calls);
  return 0;
}

TEST_CASE("counting what waits looks at own entries alone, however many others' are here") {
  const LedgerFolder folder;
  LedgerStore store = ledger(folder.file("ledger"));
  std::vector<std::string> others;
  for (std::uint64_t sequence = 1; sequence <= 5'000; ++sequence) {
    proto::Entry entry = note("theirs");
    entry.set_device("another");
    entry.set_sequence(sequence);
    others.push_back(entry.SerializeAsString());
  }
  sure(store.add_received(others, kTestNow_ms));
  proto::Entry own = note("ours");
  sure(store.append(own, kTestNow_ms));
  DeviceState state =
      sure(DeviceState::open(store, "", [](std::size_t bytes) { return std::string(bytes, 'r'); }));
  CHECK(sure(state.outbox()).waiting == 1);  // which prepares it
  int calls = 0;
  sqlite3_progress_handler(store.file().get(), kStepsInOneCall, count_call, &calls);
  CHECK(sure(state.outbox()).waiting == 1);
  sqlite3_progress_handler(store.file().get(), 0, nullptr, nullptr);
  CHECK(calls < 5);  // 5,000 entries would be over a hundred calls
}

}  // namespace
}  // namespace chipfall
