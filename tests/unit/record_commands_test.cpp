#include <doctest/doctest.h>

#include <cstdlib>
#include <fstream>
#include <sstream>

#include "preview/terminal/commands.h"
#include "tests/unit/open_door.h"

using namespace chipfall;

namespace {

struct Said {
  int code = 0;
  std::string out;
  std::string err;
};

Said says(std::vector<std::string> arguments) {
  ::unsetenv("CHIPFALL_LEDGER");
  arguments.insert(arguments.begin(), "chipfall");
  std::vector<const char*> argv;
  for (const std::string& argument : arguments) argv.push_back(argument.c_str());
  std::ostringstream out, err;
  const int code = run(static_cast<int>(argv.size()), argv.data(), out, err);
  return {code, out.str(), err.str()};
}

bool has(const std::string& text, std::string_view part) {
  return text.find(part) != std::string::npos;
}

/// A ledger that keeps the small shop's sheet.
class Ledger {
 public:
  Ledger() {
    std::ofstream(sheet(), std::ios::binary) << test::own_sheet();
    REQUIRE(says({"record", "sheet", sheet(), "--ledger", folder()}).code == kDone);
  }
  std::string sheet() const { return folder_.file("shop.textproto"); }
  std::string folder() const { return folder_.file(""); }
  std::string file(const std::string& name) const { return folder_.file(name); }

  Said record(std::vector<std::string> arguments) const {
    arguments.insert(arguments.begin(), "record");
    arguments.insert(arguments.end(), {"--ledger", folder()});
    return says(arguments);
  }
  Said ask(const std::string& command, std::vector<std::string> more = {}) const {
    more.insert(more.begin(), {command, "--ledger", folder()});
    return says(more);
  }

 private:
  LedgerFolder folder_;
};

}  // namespace

TEST_CASE("an evening by the command: session, duties, bins, machines, supplies, closing") {
  const Ledger ledger;
  const Said session = ledger.record({"session", "--use", "saw-1:20:oak", "--member", "Kim"});
  REQUIRE_MESSAGE(session.code == kDone, session.err);
  CHECK(has(session.out, "Saved: Session ended, 1 use"));
  CHECK(has(ledger.ask("standing").out, "    log\n"));
  const std::vector<std::vector<std::string>> rest{
      {"done", "log", "--minutes", "2", "--people", "2"},
      {"pass-on", "zone:saw-floor", "--reason", "no time"},
      {"not-needed", "zone:saw-table"},
      {"reopen", "zone:saw-table", "--reason", "was not"},
      {"bin", "drum", "weak pull"},
      {"emptied", "drum", "--new-bag"},
      {"zone", "open-floor", "dirtier"},
      {"out", "lathe-1", "--reason", "belt slips"},
      {"back", "lathe-1", "--note", "new belt"},
      {"low", "gloves", "--left", "4"},
      {"restocked", "gloves", "--added", "100"},
      {"note", "mind the step", "--place", "bench"},
      {"closed", "--note", "all well"},
  };
  for (const auto& arguments : rest) {
    CAPTURE(arguments.front());
    const Said said = ledger.record(arguments);
    CHECK_MESSAGE(said.code == kDone, said.err);
    CHECK(said.out.starts_with("Saved: "));
  }
  CHECK(has(ledger.ask("standing").out, "Passed on since"));
  const Said history = ledger.ask("history");
  CHECK(has(history.out, "Today\n"));
  CHECK(has(history.out, "min, 2 people"));
  CHECK(has(history.out, " - Kim\n"));
  CHECK(
      has(ledger.ask("history", {"--most", "2"}).out, "There is more: chipfall history --most 4"));
  CHECK(has(ledger.ask("history", {"--json"}).out, "\"format\": 1"));
  const Said csv = ledger.ask("export");
  CHECK(csv.out.starts_with("local_time,utc,what"));
  CHECK(std::ranges::count(csv.out, '\n') == 16);
  CHECK_FALSE(has(csv.out, "Kim"));
  CHECK(has(ledger.ask("export", {"--members"}).out, "Kim"));
  const Said written = ledger.ask("export", {"--out", ledger.file("record.csv")});
  CHECK(written.code == kDone);
  CHECK(contents(ledger.file("record.csv")) == csv.out);
  CHECK(ledger.ask("export", {"--out", ledger.file("no-such/record.csv")}).code == kNotWritten);
}

TEST_CASE("wind-down with a ledger answers as without one, while nothing is known") {
  const Ledger ledger;
  const std::vector<std::string> plain{"wind-down", ledger.sheet(), "--use", "saw-1:20:oak"};
  std::vector<std::string> remembering = plain;
  remembering.insert(remembering.end(), {"--ledger", ledger.folder()});
  CHECK(says(plain).code == kDone);
  CHECK(says(remembering).code == kDone);
}

TEST_CASE("what cannot be recorded says what would be right, in one line on standard error") {
  const Ledger ledger;
  const Said bin = ledger.record({"bin", "durm", "full"});
  CHECK(bin.code == kMistakes);
  CHECK(bin.out.empty());
  CHECK(bin.err.starts_with("record bin: \"durm\" is not a bin here"));
  CHECK(has(bin.err, "did you mean \"drum\"?"));
  CHECK(has(ledger.record({"back", "saw-1"}).err, "is not out of order"));
  CHECK(has(ledger.record({"session", "--use", "swa-1:20:oak"}).err, "--use swa-1:20:oak"));
  CHECK(ledger.record({"done"}).code == kUsage);
  CHECK(ledger.record({"dance"}).code == kUsage);
  CHECK(has(ledger.ask("export", {"--from", "monday"}).err, "--from: \"monday\" is not a day"));
  const Said nowhere = says({"history"});
  CHECK(nowhere.code == kMistakes);
  CHECK(has(nowhere.err, "set CHIPFALL_LEDGER"));
  CHECK(has(says({"history", "--ledger", ledger.file("no-such")}).err, "no such folder"));
}
