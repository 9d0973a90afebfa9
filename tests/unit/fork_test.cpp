#include <doctest/doctest.h>

#include <filesystem>

#include "core/ledger/rename.h"
#include "sync/device_state.h"
#include "sync/hub_session.h"
#include "sync/installation.h"
#include "sync/memory_log.h"
#include "sync/secret.h"
#include "tests/unit/ledger_folder.h"

/// Copies of a phone, and what names their entries get. Whole copies at sync: tests/sim, case 21.
namespace chipfall {
namespace {

std::string some_bytes(std::size_t count) { return std::string(count, 'x'); }

/// A phone's file, as it was copied from another or began.
struct Copy {
  explicit Copy(const std::string& path)
      : store(ledger(path)), state(sure(DeviceState::open(store, "", some_bytes))) {}
  void record(const std::string& text) {
    proto::Entry entry = note(text);
    sure(store.append(entry, kTestNow_ms));
  }
  /// The hub has others by these names.
  void fork(const std::string& new_name, const std::vector<std::uint64_t>& moving) {
    sure(state.begin_new_name({new_name, "epoch", "credential"}));
    sure(state.take_new_name(moving, 0));
  }
  std::string bytes(const std::string& name, std::uint64_t sequence) {
    return sure(store.bytes_of(name, sequence)).value_or("");
  }
  LedgerStore store;
  DeviceState state;
};

std::string copied(const std::string& from, const std::string& to) {
  std::filesystem::copy_file(from, to);
  return to;
}

/// A phone with three notes; its file is copied while it is closed.
std::string original(const LedgerFolder& folder) {
  Copy phone(folder.file("original"));
  for (const char* text : {"one", "two", "three"}) phone.record(text);
  return folder.file("original");
}

TEST_CASE("the name of moved entries is the one that the protocol's page tells") {
  // From Python's hashlib, by the words of sync/PROTOCOL.md.
  CHECK(hex_of(moved_name("phone", 3, "bench swept")) == "f72dcce4c5992289c31d60a8a47ab6f9");
  CHECK(moved_name("phone", 4, "bench swept") != moved_name("phone", 3, "bench swept"));
  CHECK(moved_name("phon", 3, "ebench swept") != moved_name("phone", 3, "bench swept"));
}

TEST_CASE("two copies of a copy give the same entries the same new names, byte for byte") {
  const LedgerFolder folder;
  const std::string path = original(folder);
  Copy first(copied(path, folder.file("first"))), second(copied(path, folder.file("second")));
  const std::string moved = moved_name("phone", 2, first.bytes("phone", 2));
  first.fork("new name of the first", {2, 3});
  second.fork("new name of the second", {2, 3});
  CHECK(first.bytes("phone", 2).empty());
  for (const std::uint64_t sequence : {2, 3}) {
    REQUIRE_FALSE(first.bytes(moved, sequence).empty());
    CHECK(first.bytes(moved, sequence) == second.bytes(moved, sequence));
  }
  CHECK(sure(first.state.moved_names()) == std::vector{moved});
  CHECK(sure(first.state.former_names()).at("phone") == 0);
}

TEST_CASE("what one entry says of another that moves with it goes along") {
  const LedgerFolder folder;
  Copy phone(folder.file("phone"));
  phone.record("before");
  proto::Entry session, done;
  session.mutable_session_ended()->add_owed()->set_id("zone:floor");
  sure(phone.store.append(session, kTestNow_ms));
  for (const std::uint64_t mentioned : {1, 2}) {
    done.mutable_duty_done()->mutable_duty()->mutable_session()->set_device("phone");
    done.mutable_duty_done()->mutable_duty()->mutable_session()->set_sequence(mentioned);
    sure(phone.store.append(done, kTestNow_ms));
  }
  const std::string moved = moved_name("phone", 2, phone.bytes("phone", 2));
  phone.fork("new", {2, 3, 4});
  const auto session_of = [&](std::uint64_t sequence) {
    proto::Entry entry;
    REQUIRE(entry.ParseFromString(phone.bytes(moved, sequence)));
    return entry.duty_done().duty().session();
  };
  CHECK(session_of(3).device() == "phone");
  CHECK(session_of(4).device() == moved);
  CHECK(session_of(4).sequence() == 2);
}

TEST_CASE("where another copy went on under the derived name, the rest moves on from there") {
  const LedgerFolder folder;
  const std::string path = original(folder);
  Copy first(copied(path, folder.file("first"))), second(copied(path, folder.file("second")));
  first.record("four of the first");
  second.record("four of the second");
  second.record("five of the second");
  const std::string moved = moved_name("phone", 2, first.bytes("phone", 2));
  first.fork("new name of the first", {2, 3, 4});
  // The hub's pages bring the first copy's entries to the second before it has forked.
  std::vector<std::string> page;
  for (const std::uint64_t sequence : {2, 3, 4}) page.push_back(first.bytes(moved, sequence));
  sure(second.state.take_page(page, 3, 3, kTestNow_ms));
  second.fork("new name of the second", {2, 3, 4, 5});
  for (const std::uint64_t sequence : {2, 3, 4}) {
    CHECK(second.bytes(moved, sequence) == first.bytes(moved, sequence));
  }
  CHECK(sure(second.store.counts()).entries == 1 + 3 + 2);  // nothing twice
  const auto former = sure(second.state.former_names());
  CHECK(former.size() == 3);  // "phone", the shared name, and the one after that
  for (const auto& [name, settled] : former) {
    if (name == "phone" || name == moved) continue;
    proto::Entry entry;
    REQUIRE(entry.ParseFromString(second.bytes(name, 4)));
    CHECK(entry.note().text() == "four of the second");
    CHECK_FALSE(second.bytes(name, 5).empty());
  }
}

TEST_CASE("a page that brings another line of a former name moves the own one as a whole") {
  const LedgerFolder folder;
  Copy phone(original(folder));
  const std::string moved = moved_name("phone", 2, phone.bytes("phone", 2));
  phone.fork("new", {});
  const HybridTime later{kTestNow_ms + 1, 0};
  const std::vector<std::string> page = {
      phone.bytes("phone", 1), sent("phone", 2, later, "two of another"),
      sent("phone", 3, later, "three of another"), sent("phone", 4, later, "four of another")};
  const Taken taken = sure(phone.state.take_page(page, 4, 4, kTestNow_ms));
  CHECK(taken.moved);
  for (const std::uint64_t sequence : {2, 3, 4}) {
    CHECK(phone.bytes("phone", sequence) == page[sequence - 1]);
  }
  CHECK_FALSE(phone.bytes(moved, 2).empty());
  CHECK_FALSE(phone.bytes(moved, 3).empty());
  CHECK(phone.bytes(moved, 4).empty());
  CHECK(sure(phone.store.counts()).entries == 4 + 2);
}

TEST_CASE("an entry's new name is refused where another entry has it") {
  const LedgerFolder folder;
  Copy phone(original(folder));
  const std::string other = sent("phone", 3, {kTestNow_ms, 9}, "other");
  const auto moved = phone.store.add_received({}, kTestNow_ms, [&](std::span<const Received>) {
    return move_entries(phone.store.file(), std::vector<MovedEntry>{{"phone", 2, other}});
  });
  CHECK_FALSE(moved.has_value());
  CHECK(sure(phone.store.counts()).entries == 3);
}

TEST_CASE("of one line a hub takes nothing after an entry that differs, of others each by itself") {
  MemoryLog log("otter-bend", "epoch");
  const auto commit = [&](const Offer& offer) {
    return sure(log.commit({&offer, 1}, kTestNow_ms)).front();
  };
  commit({1, "a", {"one", "two"}, {1, 2}, nullptr});
  const auto line = std::make_shared<OneLine>();
  const Verdicts differs{proto::VERDICT_KNOWN_SAME, proto::VERDICT_KNOWN_DIFFERENT,
                         proto::VERDICT_KNOWN_DIFFERENT};
  CHECK(commit({2, "a", {"one", "zwei", "drei"}, {1, 2, 3}, line}) == differs);
  CHECK(commit({3, "a", {"vier"}, {4}, line}) == Verdicts{proto::VERDICT_KNOWN_DIFFERENT});
  CHECK(sure(log.held("a")).through == 2);
  CHECK(commit({4, "a", {"zwei", "drei"}, {2, 3}, nullptr}).back() == proto::VERDICT_NEW);
}

}  // namespace
}  // namespace chipfall
