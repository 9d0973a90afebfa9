#include "sync/hub_copies.h"
#include "sync/hub_tables.h"
#include "sync/hub_writer.h"
#include "tests/hub/running_hub.h"

namespace chipfall {
namespace {

const std::string kEpoch(kEpochBytes, 'e');

std::unique_ptr<SqliteHubLog> new_log(const std::string& path,
                                      const HubStoreOptions& options = {}) {
  return sure(SqliteHubLog::create(path, "otter-bend", "Otter Bend", kEpoch, options));
}

Offer offer(const std::string& device, std::vector<std::pair<std::uint64_t, std::string>> entries) {
  Offer made;
  made.device = device;
  for (auto& [sequence, bytes] : entries) {
    made.sequences.push_back(sequence);
    made.entries.push_back(bytes);
  }
  return made;
}

std::vector<Verdicts> commit(SqliteHubLog& log, const std::vector<Offer>& offers) {
  return sure(log.commit(offers, kTestNow_ms));
}

TEST_CASE("a hub's file takes no entry of a device that it does not name") {
  const LedgerFolder folder;
  const std::string path = folder.file("log");
  REQUIRE(new_log(path) != nullptr);
  SqliteFile file = sure(SqliteFile::open(path, false, 1000));
  REQUIRE(apply_hub_settings(file, 0));
  CHECK(sure(file.number_of("PRAGMA foreign_keys")) == 1);
  const auto stray = file.run(
      "INSERT INTO entries (position, name, sequence, received_ms, checksum, bytes)"
      " VALUES (1, 77, 1, 0, 0, x'00')");
  REQUIRE(!stray);
  CHECK(has(stray.error().text(), "FOREIGN KEY"));
}

TEST_CASE("the log takes each name once, whoever offers it, and says what became of each entry") {
  const LedgerFolder folder;
  const auto log = new_log(folder.file("log"));
  const auto answers =
      commit(*log, {offer("a", {{1, "one"}, {2, "two"}}), offer("b", {{1, "uno"}}),
                    offer("a", {{2, "two"}, {2, "zwei"}, {0, "none"}, {4, "four"}})});
  CHECK(answers[0] == Verdicts{proto::VERDICT_NEW, proto::VERDICT_NEW});
  CHECK(answers[1] == Verdicts{proto::VERDICT_NEW});
  CHECK(answers[2] == Verdicts{proto::VERDICT_KNOWN_SAME, proto::VERDICT_KNOWN_DIFFERENT,
                               proto::VERDICT_REFUSED, proto::VERDICT_NEW});
  CHECK(sure(log->last_position()) == 4);
  CHECK(sure(log->held("a")).through == 4);
  CHECK(sure(log->held("a")).hash == sha256("four"));
  CHECK(sure(log->held("nobody")).through == 0);
  CHECK(sure(log->short_hash_of("a", 2)) == short_hash("two"));
  CHECK(sure(log->short_hash_of("a", 3)).empty());
  sure(log->check());
}

TEST_CASE("of one line the log takes nothing after an entry that differs, over commits too") {
  const LedgerFolder folder;
  const auto log = new_log(folder.file("log"));
  commit(*log, {offer("a", {{1, "one"}, {2, "two"}})});
  Offer first = offer("a", {{1, "one"}, {2, "zwei"}, {3, "drei"}});
  Offer next = offer("a", {{2, "two"}, {4, "vier"}});
  first.line = next.line = std::make_shared<OneLine>();
  const Verdicts differs{proto::VERDICT_KNOWN_SAME, proto::VERDICT_KNOWN_DIFFERENT,
                         proto::VERDICT_KNOWN_DIFFERENT};
  CHECK(commit(*log, {first}).front() == differs);
  CHECK(commit(*log, {next}).front() ==
        Verdicts{proto::VERDICT_KNOWN_SAME, proto::VERDICT_KNOWN_DIFFERENT});
  CHECK(sure(log->held("a")).through == 2);
  CHECK(commit(*log, {offer("a", {{3, "three"}})}).front() == Verdicts{proto::VERDICT_NEW});
}

TEST_CASE("what was committed is there after opening again, in the same places") {
  const LedgerFolder folder;
  {
    const auto log = new_log(folder.file("log"));
    commit(*log, {offer("a", {{1, "one"}}), offer("b", {{1, "uno"}})});
    sure(log->put_device({"a", "a", "v", proto::ROLE_CLOSER, "e", "pad", 7, false}));
  }
  const auto log = sure(SqliteHubLog::open(folder.file("log"), {}));
  CHECK(log->shop_name() == "Otter Bend");
  CHECK(sure(log->epochs()).back().id == kEpoch);
  std::string seen;
  sure(log->visit(0, [&](const LoggedEntry& entry) {
    seen +=
        std::to_string(entry.position) + std::string(entry.device) + std::string(entry.bytes) + " ";
    return true;
  }));
  CHECK(seen == "1aone 2buno ");
  const auto device = sure(log->device("a"));
  REQUIRE(device.has_value());
  CHECK(device->role == proto::ROLE_CLOSER);
  CHECK(device->label == "pad");
  commit(*log, {offer("a", {{2, "two"}})});
  CHECK(sure(log->last_position()) == 3);
}

TEST_CASE("a visitor may stop, ask the log other things, and visit again") {
  const LedgerFolder folder;
  const auto log = new_log(folder.file("log"));
  commit(*log, {offer("a", {{1, "one"}, {2, "two"}, {3, "three"}})});
  int outer = 0, inner = 0;
  sure(log->visit(1, [&](const LoggedEntry&) {
    CHECK(sure(log->held("a")).through == 3);
    sure(log->visit(0, [&](const LoggedEntry&) { return ++inner % 2 != 0; }));
    return ++outer < 1;
  }));
  CHECK(outer == 1);
  CHECK(inner == 2);
  sure(log->fold_wal());
  CHECK(log->wal_bytes() == 0);
}

TEST_CASE("a flipped bit in the log is told when it is read, and check finds it") {
  const LedgerFolder folder;
  {
    const auto log = new_log(folder.file("log"));
    commit(*log, {offer("a", {{1, "sweep the bench by the door"}})});
    sure(log->fold_wal());
  }
  const std::string bytes = contents(folder.file("log"));
  overwrite(folder.file("log"), bytes.find("bench by the door"), "B");
  const auto log = sure(SqliteHubLog::open(folder.file("log"), {}));
  const auto checked = log->check();
  REQUIRE_FALSE(checked.has_value());
  CHECK(checked.error().text().find("entry 1 of the log is damaged") != std::string::npos);
}

TEST_CASE("another program's file and a newer version's are refused and stay as they were") {
  const LedgerFolder folder;
  {
    SqliteFile file = sure(SqliteFile::open(folder.file("other"), true, 0));
    sure(file.run("CREATE TABLE birds (name); PRAGMA user_version = 3"));
  }
  const std::string before = contents(folder.file("other"));
  CHECK(SqliteHubLog::open(folder.file("other"), {}).error().code == ErrorCode::kUnknown);
  CHECK(contents(folder.file("other")) == before);
  new_log(folder.file("log"));
  {
    SqliteFile file = sure(SqliteFile::open(folder.file("log"), false, 0));
    sure(file.run("PRAGMA user_version = 99"));
  }
  const auto newer = SqliteHubLog::open(folder.file("log"), {});
  REQUIRE_FALSE(newer.has_value());
  CHECK(newer.error().text().find("newer chipfall-hub") != std::string::npos);
}

TEST_CASE("a full file takes nothing of a commit, says that waiting helps, and stays readable") {
  const LedgerFolder folder;
  new_log(folder.file("log"));
  HubStoreOptions small;
  small.most_pages = 40;
  const auto log = sure(SqliteHubLog::open(folder.file("log"), small));
  std::uint64_t sequence = 0;
  OrError<std::vector<Verdicts>> answer;
  do {
    ++sequence;
    const Offer big = offer("a", {{sequence, std::string(20'000, 'x')}});
    answer = log->commit(std::span(&big, 1), kTestNow_ms);
  } while (answer && sequence < 100);
  REQUIRE_FALSE(answer.has_value());
  CHECK(log->disk_full());
  CHECK(answer.error().code == ErrorCode::kOutOfBounds);
  CHECK(answer.error().text().find("free some space") != std::string::npos);
  CHECK(sure(log->last_position()) == sequence - 1);
  sure(log->check());
}

TEST_CASE("the writer gives up its reserve on a full disk and takes entries when there is room") {
  const LedgerFolder folder;
  HubCounts counts;
  HubJournal journal([](const std::string&) {}, [] { return kTestNow_ms; });
  new_log(folder.file("log"));
  HubStoreOptions small;
  small.most_pages = 40;
  auto log = sure(SqliteHubLog::open(folder.file("log"), small));
  std::atomic<std::int64_t> free{1LL << 30};
  DiskReserve reserve(folder.file("reserve"), 10'000, [&] { return free.load(); });
  HubWriter writer(counts, journal, reserve, [] { return kTestNow_ms; });
  std::atomic<int> answered{0}, failed{0};
  std::uint64_t sequence = 0;
  const auto give = [&] {
    Offer big = offer("a", {{++sequence, std::string(20'000, 'x')}});
    const int before = answered;
    writer.take({log.get(), big, [&](std::uint64_t, const OrError<Verdicts>& verdicts) {
                   if (!verdicts) ++failed;
                   ++answered;
                 }});
    CHECK(soon([&] { return answered > before; }));
  };
  give();
  CHECK(failed == 0);
  CHECK(contents(folder.file("reserve")).size() == 10'000);
  free = 100;
  while (failed == 0 && sequence < 100) give();
  CHECK(failed == 1);
  CHECK(contents(folder.file("reserve")).empty());
  CHECK(counts.disk_full == 1);
  give();  // not even tried
  CHECK(failed == 2);
  writer.finish();
  CHECK(counts.commit_failures == 2);
  CHECK(counts.backlog_bytes == 0);
}

TEST_CASE("a reserve comes back only where there is room beside it") {
  const LedgerFolder folder;
  std::int64_t free = kRoomBesideReserve_bytes;
  DiskReserve reserve(folder.file("reserve"), 10'000, [&] { return free; });
  CHECK_FALSE(reserve.ready());
  free += 10'000;
  CHECK(reserve.ready());
  free = 0;
  CHECK(reserve.ready());  // it is held
  reserve.release();
  CHECK_FALSE(reserve.ready());
}

TEST_CASE("a code is good once, also for two who use it at the same moment") {
  const LedgerFolder folder;
  const auto log = new_log(folder.file("log"));
  const HubJoinCode code{sha256("secret"), proto::ROLE_MEMBER, kTestNow_ms + 1000, ""};
  sure(log->add_join_code(code, kTestNow_ms));
  sure(log->redeem(code, {"a", "a", "v", proto::ROLE_MEMBER, "", "", kTestNow_ms, false}));
  CHECK_FALSE(log->redeem(code, {"b", "b", "v", proto::ROLE_MEMBER, "", "", kTestNow_ms, false})
                  .has_value());
  CHECK_FALSE(sure(log->device("b")).has_value());
  CHECK(sure(log->join_code(sha256("secret")))->used_by == "a");
  // Neither the secret nor anything that it follows from is in the file.
  sure(log->fold_wal());
  CHECK(contents(folder.file("log")).find("secret" + std::string(1, '\0')) == std::string::npos);
}

TEST_CASE("old codes are forgotten, and no more than so many are good at once") {
  const LedgerFolder folder;
  const auto log = new_log(folder.file("log"));
  for (int i = 0; i < kMostOpenCodes; ++i) {
    sure(log->add_join_code({sha256(std::to_string(i)), proto::ROLE_MEMBER, kTestNow_ms + 1, ""},
                            kTestNow_ms));
  }
  const HubJoinCode more{sha256("more"), proto::ROLE_MEMBER, kTestNow_ms + 1, ""};
  CHECK(log->add_join_code(more, kTestNow_ms).error().code == ErrorCode::kOutOfBounds);
  sure(log->add_join_code(more, kTestNow_ms + 2));
  CHECK(sure(log->join_code(sha256("0"))).has_value());
  sure(log->add_join_code(more, kTestNow_ms + kCodeRemembered_ms + 10));
  CHECK_FALSE(sure(log->join_code(sha256("0"))).has_value());
}

TEST_CASE(
    "revoking reaches all names of a device, and other processes see that something changed") {
  const LedgerFolder folder;
  const auto log = new_log(folder.file("log"));
  const auto other = sure(SqliteHubLog::open(folder.file("log"), {}));
  sure(log->put_device({"old", "old", "v", proto::ROLE_MEMBER, "", "", 1, false}));
  sure(log->put_device({"new", "old", "v", proto::ROLE_MEMBER, "", "", 2, false}));
  const std::int64_t before = sure(log->membership());
  CHECK(sure(other->revoke("new")));
  CHECK_FALSE(sure(other->revoke("nobody")));
  CHECK(sure(log->membership()) > before);
  CHECK(sure(log->device("old"))->revoked);
  CHECK(sure(log->device("new"))->revoked);
}

TEST_CASE("a backup of a hub is whole and restores in a new epoch that says where it begins") {
  const LedgerFolder folder;
  const HubFolder hub = sure(HubFolder::open(folder.file("hub"), true));
  sure(hub.ensure_keys());
  std::string id;
  {
    const auto log = sure(hub.add_shop("Otter Bend", {}));
    id = log->shop();
    commit(*log, {offer("a", {{1, "one"}, {2, "two"}})});
    CHECK(sure(back_up_hub(hub, folder.file("backup"))) == 1);
    CHECK_FALSE(back_up_hub(hub, folder.file("backup")).has_value());  // never written over
    commit(*log, {offer("a", {{3, "three"}})});
  }
  CHECK(sure(restore_hub(hub, folder.file("backup"), kTestNow_ms)) == 1);
  const auto log = sure(hub.open_shop(id, {}));
  const auto epochs = sure(log->epochs());
  REQUIRE(epochs.size() == 2);
  CHECK(epochs[0].id != epochs[1].id);
  CHECK(epochs[1].began_after == 2);
  CHECK(sure(log->last_position()) == 2);
  sure(log->check());
  CHECK(contents(hub.shop_file(id) + ".before-" + std::to_string(kTestNow_ms)).size() > 0);
  CHECK(sure(tls::fingerprint_of_file(hub.certificate())) ==
        sure(tls::fingerprint_of_file(folder.file("backup") + "/hub.crt")));
}

TEST_CASE("a hub's folder, its key and its backups are for the hub's own user only") {
  const LedgerFolder folder;
  const HubFolder hub = sure(HubFolder::open(folder.file("hub"), true));
  sure(hub.ensure_keys());
  sure(hub.add_shop("Otter Bend", {}));
  CHECK(sure(back_up_hub(hub, folder.file("backup"))) == 1);
  const auto for_others = [](const std::string& path) {
    using std::filesystem::perms;
    return std::filesystem::status(path).permissions() & (perms::group_all | perms::others_all);
  };
  const std::string whole[] = {hub.path(), hub.key(), folder.file("backup"),
                               folder.file("backup") + "/hub.key"};
  for (const std::string& path : whole) {
    CHECK_MESSAGE(for_others(path) == std::filesystem::perms::none, path);
  }
}

TEST_CASE("the log folds while nobody reads, and goes on growing while somebody does") {
  const LedgerFolder folder;
  const auto log = new_log(folder.file("log"));
  SqliteFile reader = sure(SqliteFile::open(folder.file("log"), false, 0));
  sure(reader.run("BEGIN; SELECT count(*) FROM entries"));
  for (std::uint64_t i = 1; i <= 20; ++i)
    commit(*log, {offer("a", {{i, std::string(9'000, 'x')}})});
  CHECK(log->wal_bytes() > 100'000);
  sure(log->fold_wal());
  CHECK(log->wal_bytes() > 0);  // the reader still needs it
  sure(reader.run("COMMIT"));
  sure(log->fold_wal());
  CHECK(log->wal_bytes() == 0);
  sure(log->check());
}

}  // namespace
}  // namespace chipfall
