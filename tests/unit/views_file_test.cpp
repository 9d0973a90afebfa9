#include <doctest/doctest.h>

#include "core/ledger/rename.h"
#include "core/ledger/salvage.h"
#include "core/ledger/view_tables.h"
#include "core/ledger/views.h"
#include "tests/unit/told_entries.h"

using namespace chipfall;

namespace {

/// Some of everything, so that every table has rows.
Phones some_of_everything() {
  Phones phones;
  const EntryRef session = phones.session("a", 0, {"zone:floor", "zone:bench"});
  phones.done("b", 5, "zone:floor", session);
  phones.passed_on("a", 6, "trash");
  phones.back("a", 8, "saw", phones.out("b", 7, "saw"));
  phones.supply("a", 9, "glue", true);
  phones.measured("b", 10);
  return phones;
}

/// Opens views over the ledger at `path`, having changed it by `sql`.
std::string dump_after(const std::string& path, const std::string& sql) {
  LedgerStore store = ledger(path, "");
  sure(store.file().run(sql));
  Views views = views_of(store);
  return sure(views.dump());
}

std::string query_plan(LedgerStore& store, const std::string& sql) {
  auto statement =
      sure(Statement::prepare(store.file(), "EXPLAIN QUERY PLAN " + sql, "explain a query"));
  std::string plan;
  while (sure(statement.step())) plan.append(statement.bytes(3)).append("\n");
  return plan;
}

}  // namespace

TEST_CASE("entries that took new names are told by these, also by views that were open") {
  LedgerFolder folder;
  LedgerStore store = ledger(folder.file("a"));
  Phones phones = some_of_everything();
  sure(store.add_received(phones.sent(), kTestNow_ms));
  Views views = views_of(store);
  const std::string before = sure(views.dump());
  const auto also = [&](std::span<const Received>) -> OrError<void> {
    const NewNames names{"a", "new", {{1, 1}, {2, 2}, {3, 3}, {4, 4}}};
    std::vector<MovedEntry> moved;
    for (const auto& [from, to] : names.sequences) {
      moved.push_back({"a", from, sure(renamed_entry(*sure(store.bytes_of("a", from)), names))});
    }
    return move_entries(store.file(), moved);
  };
  sure(store.add_received({}, kTestNow_ms, also));
  sure(views.catch_up());  // all that a program that was killed in between would do
  CHECK(sure(views.dump()) != before);
  CHECK(sure(views.machines_out()).empty());

  LedgerStore fresh = ledger(folder.file("b"));
  sure(fresh.add_received(all_bytes(store), kTestNow_ms));
  Views anew = views_of(fresh);
  CHECK(sure(views.dump()) == sure(anew.dump()));
}

TEST_CASE("views are there again when the ledger is opened again, and go on from there") {
  LedgerFolder folder;
  const std::string path = folder.file("a");
  Phones phones = some_of_everything();
  std::string dump;
  {
    LedgerStore store = ledger(path);
    sure(store.add_received(phones.sent(), kTestNow_ms));
    Views views = views_of(store);
    dump = sure(views.dump());
    // Stored, and the program ends before it is folded.
    phones.note("c", 20, "late");
    sure(store.add_received(std::vector{phones.sent().back()}, kTestNow_ms));
  }
  LedgerStore store = ledger(path);
  CHECK(sure(view_position(store.file())) == std::int64_t(phones.sent().size()) - 1);
  Views views = views_of(store);
  CHECK(sure(views.notes()).size() == 1);
  CHECK(sure(views.dump()) != dump);
  CHECK(sure(views.dump()) == sure(ToldLedger(phones).views().dump()));
}

TEST_CASE("folding that is broken off in a transaction leaves what was folded before") {
  LedgerFolder folder;
  const Phones phones = some_of_everything();
  LedgerStore store = ledger(folder.file("a"));
  Views views = views_of(store);
  sure(store.add_received(phones.sent(), kTestNow_ms));
  // The position cannot be stored, so nothing of its transaction may stay.
  sure(store.file().run(
      "CREATE TEMP TRIGGER no BEFORE UPDATE ON main.view_self BEGIN SELECT raise(ABORT, 'no'); "
      "END"));
  CHECK_FALSE(views.catch_up().has_value());
  CHECK(sure(views.dump()) == "\n");
  sure(store.file().run("DROP TRIGGER temp.no"));
  sure(views.catch_up());
  CHECK(sure(views.dump()) == sure(ToldLedger(phones).views().dump()));
}

TEST_CASE("views that are not as this program makes them are made anew") {
  LedgerFolder folder;
  const std::string path = folder.file("a");
  const Phones phones = some_of_everything();
  std::string dump;
  {
    LedgerStore store = ledger(path);
    sure(store.add_received(phones.sent(), kTestNow_ms));
    Views views = views_of(store);
    dump = sure(views.dump());
  }
  for (const std::string tampering :
       {"UPDATE view_self SET version = version + 1", "DELETE FROM view_self",
        "UPDATE view_self SET position = position - 1", "UPDATE view_self SET position = 99",
        "DELETE FROM view_facts WHERE arrival = 2", "DROP TABLE view_duties",
        "DROP TABLE view_self", "DROP INDEX view_duties_standing",
        "ALTER TABLE view_backs RENAME TO view_fronts",
        "ALTER TABLE view_facts DROP COLUMN doubtful", "CREATE TABLE view_from_a_newer_program (x)",
        "ALTER TABLE view_facts ADD COLUMN x INTEGER"}) {
    CAPTURE(tampering);
    CHECK(dump_after(path, tampering) == dump);
  }
  LedgerStore store = ledger(path, "");
  CHECK(sure(view_tables_fit(store.file())));
}

TEST_CASE("a damaged entry ends the folding with the store's error, what came before is folded") {
  LedgerFolder folder;
  const Phones phones = some_of_everything();
  LedgerStore store = ledger(folder.file("a"));
  Views views = views_of(store);
  sure(store.add_received(phones.sent(), kTestNow_ms));
  sure(store.file().run("UPDATE entries SET checksum = checksum + 1 WHERE arrival = 4"));
  for (int attempt = 0; attempt < 2; ++attempt) {
    const auto caught_up = views.catch_up();
    REQUIRE_FALSE(caught_up.has_value());
    CHECK(caught_up.error().message.find("is damaged") != std::string::npos);
    CHECK(sure(view_position(store.file())) == 3);
    CHECK(in_short(sure(views.standing())) ==
          std::vector<std::string>{"zone:bench open", "trash passed on"});
  }
}

TEST_CASE("an entry that was damaged after it was folded is told, not shown") {
  LedgerFolder folder;
  LedgerStore store = ledger(folder.file("a"));
  sure(store.add_received(some_of_everything().sent(), kTestNow_ms));
  Views views = views_of(store);
  sure(store.file().run("UPDATE entries SET bytes = x'0102' WHERE arrival = 3"));
  const auto standing = views.standing();
  REQUIRE_FALSE(standing.has_value());
  CHECK(standing.error().message.find("damaged") != std::string::npos);
  CHECK(sure(views.sessions()).size() == 1);
}

TEST_CASE("a salvaged ledger gets its views like any other that has none") {
  LedgerFolder folder;
  const Phones phones = some_of_everything();
  std::string dump;
  {
    LedgerStore store = ledger(folder.file("old"));
    sure(store.add_received(phones.sent(), kTestNow_ms));
    Views views = views_of(store);
    dump = sure(views.dump());
  }
  sure(salvage(folder.file("old"), folder.file("new"), "fresh", kTestNow_ms));
  LedgerStore store = ledger(folder.file("new"), "");
  Views views = views_of(store);
  CHECK(sure(views.dump()) == dump);
}

TEST_CASE("two programs that share a ledger fold each entry once") {
  LedgerFolder folder;
  const Phones phones = some_of_everything();
  LedgerStore one = ledger(folder.file("a"));
  LedgerStore two = ledger(folder.file("a"));
  Views of_one = views_of(one);
  Views of_two = views_of(two);
  sure(one.add_received(phones.sent(), kTestNow_ms));
  sure(of_two.catch_up());
  sure(of_one.catch_up());
  CHECK(sure(of_one.dump()) == sure(ToldLedger(phones).views().dump()));
}

TEST_CASE("folding tells how far it is") {
  LedgerFolder folder;
  const Phones phones = some_of_everything();
  LedgerStore store = ledger(folder.file("a"));
  sure(store.add_received(phones.sent(), kTestNow_ms));
  std::vector<std::pair<std::int64_t, std::int64_t>> told;
  Views views = sure(Views::open(
      store, [&](std::int64_t folded, std::int64_t all) { told.emplace_back(folded, all); }));
  CHECK(sure(views.sessions()).size() == 1);
  const auto entries = std::int64_t(phones.sent().size());
  CHECK(told == std::vector<std::pair<std::int64_t, std::int64_t>>{{entries, entries}});
}

TEST_CASE("what is asked at the start is found by indexes") {
  ToldLedger told(some_of_everything());
  for (const char* sql :
       {"SELECT id FROM view_duties WHERE ending IN (0, 2, 4) AND id > x'00' ORDER BY id LIMIT 1",
        "SELECT id FROM view_duties WHERE ending IN (0, 2, 4) AND id = x'00' AND "
        "max(since_ms, ended_ms) >= 5",
        "SELECT ended_ms FROM view_duties WHERE ending = 1 AND id = x'00' ORDER BY ended_ms DESC",
        "SELECT ending FROM view_building WHERE id = x'00' ORDER BY wall_ms, counter, device",
        "SELECT about FROM view_latest WHERE kind = 25 ORDER BY about",
        "SELECT bytes FROM view_facts CROSS JOIN entries ON entries.arrival = view_facts.arrival "
        "WHERE kind = 16 AND at_ms >= 5 ORDER BY at_ms"}) {
    const std::string plan = query_plan(told.store(), sql);
    CAPTURE(plan);
    CHECK(plan.find("SEARCH view_") != std::string::npos);
    CHECK(plan.find("SCAN") == std::string::npos);
    CHECK(plan.find("TEMP B-TREE") == std::string::npos);
  }
}
