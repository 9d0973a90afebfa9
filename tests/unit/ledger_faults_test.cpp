#include <algorithm>
#include <random>

#include "core/ledger/salvage.h"
#include "tests/unit/ledger_folder.h"

namespace chipfall {
namespace {

namespace fs = std::filesystem;

/// A closed ledger of notes "note 1000" and so on, so that its bytes are all in one file.
std::string ledger_of_notes(const LedgerFolder& folder, int notes) {
  const std::string path = folder.file("damaged");
  LedgerStore store = ledger(path);
  std::vector<proto::Entry> entries;
  for (int i = 0; i < notes; ++i) entries.push_back(note("note " + std::to_string(1000 + i)));
  sure(store.append(entries, kTestNow_ms));
  return path;
}

TEST_CASE("a ledger of a newer version is refused politely and stays as it was") {
  const LedgerFolder folder;
  const std::string path = ledger_of_notes(folder, 3);
  {
    SqliteFile file = sure(SqliteFile::open(path, false, 0));
    sure(file.run("PRAGMA user_version = 99"));
  }
  const std::string before = contents(path);
  const auto opened = LedgerStore::open(path, {});
  REQUIRE_FALSE(opened.has_value());
  CHECK(opened.error().code == ErrorCode::kUnknown);
  CHECK(opened.error().text().find("newer Chipfall") != std::string::npos);
  CHECK(opened.error().text().find("update this program") != std::string::npos);
  CHECK(contents(path) == before);
}

TEST_CASE("an older ledger comes forward with its entries, or stays as it was when a step fails") {
  const LedgerFolder folder;
  const std::string path = ledger_of_notes(folder, 3);
  std::vector<const char*> steps(ledger_steps().begin(), ledger_steps().end());
  SqliteFile file = sure(SqliteFile::open(path, false, 0));
  steps.push_back("ALTER TABLE entries ADD COLUMN colour TEXT");
  steps.push_back("ALTER TABLE nothing ADD COLUMN at_all TEXT");
  const char* colours = "SELECT count(*) FROM pragma_table_info('entries') WHERE name = 'colour'";
  CHECK_FALSE(migrate(file, "", steps).has_value());
  CHECK(sure(file.number_of("PRAGMA user_version")) == kLedgerVersion);
  CHECK(sure(file.number_of(colours)) == 0);
  steps.pop_back();
  sure(migrate(file, "", steps));
  CHECK(sure(file.number_of("PRAGMA user_version")) == kLedgerVersion + 1);
  CHECK(sure(file.number_of(colours)) == 1);
  CHECK(sure(file.number_of("SELECT count(*) FROM entries")) == 3);
  CHECK(sure(file.text_of("SELECT device FROM self")) == "phone");
}

TEST_CASE("another program's database is refused and stays as it was") {
  const LedgerFolder folder;
  {
    SqliteFile file = sure(SqliteFile::open(folder.file("other"), true, 0));
    sure(file.run("CREATE TABLE recipes (name TEXT)"));
  }
  const std::string before = contents(folder.file("other"));
  const auto opened = LedgerStore::open(folder.file("other"), of_device("phone"));
  REQUIRE_FALSE(opened.has_value());
  CHECK(opened.error().code == ErrorCode::kUnknown);
  CHECK(contents(folder.file("other")) == before);
}

TEST_CASE("a text file is refused and stays as it was") {
  const LedgerFolder folder;
  const std::string text(5000, 'w');
  std::ofstream(folder.file("text"), std::ios::binary) << text;
  const auto opened = LedgerStore::open(folder.file("text"), of_device("phone"));
  REQUIRE_FALSE(opened.has_value());
  CHECK(opened.error().text().find("this is no ledger") != std::string::npos);
  CHECK(contents(folder.file("text")) == text);
}

TEST_CASE("another device's ledger is refused, and a new one needs a device") {
  const LedgerFolder folder;
  const std::string path = ledger_of_notes(folder, 1);
  CHECK_FALSE(LedgerStore::open(path, of_device("tablet")).has_value());
  CHECK_FALSE(LedgerStore::open(folder.file("new"), {}).has_value());
  CHECK(LedgerStore::open(path, {}).has_value());
}

TEST_CASE("a flipped bit is found, and all other entries are salvaged") {
  const LedgerFolder folder;
  const std::string path = ledger_of_notes(folder, 20);
  const std::size_t at = contents(path).find("note 1007");
  REQUIRE(at != std::string::npos);
  overwrite(path, at, "N");
  const std::string before = contents(path);
  {
    LedgerOptions options;
    options.quick_check = true;
    LedgerStore store = sure(LedgerStore::open(path, options));  // the pages themselves are sound
    const auto found = store.check();
    REQUIRE_FALSE(found.has_value());
    CHECK(found.error().text().find("/8 is damaged") != std::string::npos);
  }
  const Salvaged saved = sure(salvage(path, folder.file("saved"), "phone 2", kTestNow_ms));
  CHECK(saved.copied == 19);
  CHECK(saved.lost == 1);
  CHECK_FALSE(saved.end_unknown);
  CHECK(contents(path) == before);

  LedgerStore store = ledger(folder.file("saved"), "phone 2");
  sure(store.check());
  CHECK(all_bytes(store).size() == 19);
  proto::Entry next = note("goes on");
  sure(store.append(next, kTestNow_ms));
  CHECK(all_bytes(store).back() == next.SerializeAsString());
  CHECK(sure(store.highest_sequences()) ==
        std::map<std::string, std::uint64_t>{{"phone", 20}, {"phone 2", 1}});
}

TEST_CASE("an overwritten page is found at opening, and what other pages hold is salvaged") {
  const LedgerFolder folder;
  constexpr int kNotes = 2000;
  const std::string path = ledger_of_notes(folder, kNotes);
  const std::size_t page = contents(path).find("note 1900") / 4096;
  overwrite(path, page * 4096, std::string(4096, '\xa5'));
  LedgerOptions options;
  options.quick_check = true;
  CHECK_FALSE(LedgerStore::open(path, options).has_value());
  const std::string before = contents(path);
  const Salvaged saved = sure(salvage(path, folder.file("saved"), "phone 2", kTestNow_ms));
  CHECK(saved.lost > 0);
  CHECK(saved.lost < 200);
  CHECK(saved.copied + saved.lost == kNotes);
  CHECK(contents(path) == before);
  LedgerStore store = ledger(folder.file("saved"), "phone 2");
  sure(store.check());
  CHECK(sure(store.counts()).entries == saved.copied);
}

TEST_CASE("whatever bytes are flipped, salvage invents no entry") {
  std::mt19937 random(7);
  for (int trial = 0; trial < 10; ++trial) {
    const LedgerFolder folder;
    const std::string path = ledger_of_notes(folder, 300);
    std::vector<std::string> made;
    {
      LedgerStore store = ledger(path);
      made = all_bytes(store);
    }
    const std::size_t size = contents(path).size();
    for (int flip = 0; flip < 1 << trial; ++flip) {
      const std::string other(1, static_cast<char>(random()));
      overwrite(path, 100 + random() % (size - 100), other);
    }
    const auto saved = salvage(path, folder.file("saved"), "phone 2", kTestNow_ms);
    if (!saved) continue;  // the page that names the tables was hit
    LedgerStore store = ledger(folder.file("saved"), "phone 2");
    const std::vector<std::string> kept = all_bytes(store);
    CHECK(static_cast<std::int64_t>(kept.size()) == saved->copied);
    CHECK(saved->lost >= 0);
    CHECK(std::all_of(kept.begin(), kept.end(), [&](const std::string& bytes) {
      return std::find(made.begin(), made.end(), bytes) != made.end();
    }));
  }
}

TEST_CASE("salvaging takes what is still in the log of a ledger that was not closed") {
  const LedgerFolder folder;
  LedgerStore open_still = ledger(folder.file("a"));
  proto::Entry entry = note("only in the log");
  sure(open_still.append(entry, kTestNow_ms));
  const Salvaged saved = sure(salvage(folder.file("a"), folder.file("saved"), "b", kTestNow_ms));
  CHECK(saved.copied == 1);
  LedgerStore store = ledger(folder.file("saved"), "b");
  CHECK(all_bytes(store) == std::vector{entry.SerializeAsString()});
}

TEST_CASE("salvaging never overwrites, and leaves nothing behind when it cannot read") {
  const LedgerFolder folder;
  const std::string path = ledger_of_notes(folder, 1);
  CHECK_FALSE(salvage(path, path, "b", kTestNow_ms).has_value());
  CHECK_FALSE(salvage(folder.file("nowhere"), folder.file("saved"), "b", kTestNow_ms).has_value());
  overwrite(path, 0, std::string(4096, '\0'));
  CHECK_FALSE(salvage(path, folder.file("saved"), "b", kTestNow_ms).has_value());
  for (const char* left : {"saved", "saved.new", "saved.reading"}) {
    CHECK_FALSE(fs::exists(folder.file(left)));
  }
}

TEST_CASE("a full disk refuses the entry, and every one before it stays readable") {
  const LedgerFolder folder;
  LedgerOptions options = of_device("phone");
  options.most_pages = 30;
  LedgerStore store = sure(LedgerStore::open(folder.file("a"), options));
  std::vector<std::string> saved;
  Error refused;
  for (int i = 0; i < 1000 && refused.message.empty(); ++i) {
    proto::Entry entry = note(std::string(1000, 'x'));
    const auto answer = store.append(entry, kTestNow_ms + i);
    if (answer) {
      saved.push_back(entry.SerializeAsString());
    } else {
      refused = answer.error();
      CHECK(entry.sequence() == 0);
    }
  }
  CHECK(refused.code == ErrorCode::kOutOfBounds);
  CHECK(refused.text().find("free some space") != std::string::npos);
  CHECK(saved.size() > 10);
  CHECK(all_bytes(store) == saved);
  sure(store.check());

  options.most_pages = 60;
  LedgerStore roomier = sure(LedgerStore::open(folder.file("a"), options));
  proto::Entry next = note("there is room again");
  sure(roomier.append(next, kTestNow_ms));
  CHECK(next.sequence() == saved.size() + 1);
}

TEST_CASE("a missing folder, and a folder in the ledger's place, are said with what to do") {
  const LedgerFolder folder;
  const auto missing = LedgerStore::open(folder.file("no/such/ledger"), of_device("phone"));
  REQUIRE_FALSE(missing.has_value());
  CHECK(missing.error().code == ErrorCode::kUnreadable);
  CHECK(missing.error().text().find("check that the folder exists") != std::string::npos);
  CHECK(missing.error().place.file == folder.file("no/such/ledger"));
  fs::create_directory(folder.file("folder"));
  CHECK_FALSE(LedgerStore::open(folder.file("folder"), of_device("phone")).has_value());
  LedgerOptions existing;
  existing.may_create = false;
  CHECK_FALSE(LedgerStore::open(folder.file("absent"), existing).has_value());
  CHECK_FALSE(fs::exists(folder.file("absent")));
}

TEST_CASE("a ledger that may only be read is refused with what to do") {
  if (::geteuid() == 0) {
    MESSAGE("left out: root may write everywhere");
    return;
  }
  const LedgerFolder folder;
  const std::string path = ledger_of_notes(folder, 1);
  fs::permissions(path, fs::perms::owner_read);
  const auto opened = LedgerStore::open(path, {});
  REQUIRE_FALSE(opened.has_value());
  CHECK(opened.error().text().find("allow writing") != std::string::npos);
}

TEST_CASE("a ledger that another program is writing to is refused after the wait, then goes on") {
  const LedgerFolder folder;
  LedgerOptions options = of_device("phone");
  options.busy_ms = 20;
  LedgerStore store = sure(LedgerStore::open(folder.file("a"), options));
  proto::Entry entry = note("waits");
  {
    SqliteFile other = sure(SqliteFile::open(folder.file("a"), false, 0));
    const WriteTransaction holds = sure(WriteTransaction::begin(other));
    const auto answer = store.append(entry, kTestNow_ms);
    REQUIRE_FALSE(answer.has_value());
    CHECK(answer.error().text().find("another program is using the ledger") != std::string::npos);
  }
  sure(store.append(entry, kTestNow_ms));
  CHECK(entry.sequence() == 1);
}

}  // namespace
}  // namespace chipfall
