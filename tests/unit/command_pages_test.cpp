#include "sync/command_pages.h"

#include <doctest/doctest.h>

#include <cstdio>
#include <fstream>
#include <iostream>
#include <sstream>

#include "preview/terminal/commands.h"
#include "tests/unit/ledger_folder.h"

namespace chipfall {
namespace {

/// A command with what tries the pages: a command in a command, words to choose from, quotes.
struct Sample {
  Sample() {
    app.add_flag("--loud", loud, "Say it's done");
    CLI::App* tell = app.add_subcommand("tell", "Tell \"everybody\"")->require_subcommand(1);
    CLI::App* who = tell->add_subcommand("who", ".dots at the front");
    who->add_option("-r,--role", role, "Whose")->check(CLI::IsMember({"member", "closer"}));
    who->add_option("--to", to, "File")->required();
    app.add_subcommand("rest", "Nothing")->group("");
  }
  CLI::App app{"Does things.", "some-thing"};
  bool loud = false;
  std::string role, to;
};

std::string said_by(const std::string& words) {
  FILE* pipe = ::popen(words.c_str(), "r");
  REQUIRE(pipe != nullptr);
  std::string said;
  for (int letter = std::fgetc(pipe); letter != EOF; letter = std::fgetc(pipe)) {
    said += static_cast<char>(letter);
  }
  CHECK(::pclose(pipe) == 0);
  return said;
}

/// What bash offers after these words, the last of which is being typed.
std::string offered(const std::string& script, const std::string& function,
                    const std::string& words, int last) {
  const LedgerFolder folder;
  std::ofstream(folder.file("script"))
      << script << "COMP_WORDS=(" << words << ")\nCOMP_CWORD=" << last << "\n"
      << function << "\necho \"${COMPREPLY[*]}\"\n";
  return said_by("bash " + folder.file("script"));
}

TEST_CASE("bash completes commands, options and their words from the table of options") {
  Sample sample;
  const std::string script = completion_script(sample.app, Shell::kBash);
  const auto after = [&](const std::string& words, int last) {
    return offered(script, "_some_thing", words, last);
  };
  CHECK(after("some-thing ''", 1) == "tell -h --help --loud\n");
  CHECK(after("some-thing --loud te", 2) == "tell\n");
  CHECK(after("some-thing tell ''", 2) == "who -h --help\n");
  CHECK(after("some-thing tell who --", 3) == "--help --role --to\n");
  CHECK(after("some-thing tell who --role c", 4) == "closer\n");
  CHECK(after("some-thing tell who --to x", 4) == "\n");  // a file: bash's own
}

TEST_CASE(
    "zsh and fish get every command and option with its help, and what has quotes stays whole") {
  Sample sample;
  for (const Shell shell : {Shell::kZsh, Shell::kFish}) {
    const std::string script = completion_script(sample.app, shell);
    for (const char* part :
         {"tell", "who", "loud", "role", "to", "member", "closer", "Tell \"everybody\"", "Whose"}) {
      CHECK_MESSAGE(script.find(part) != std::string::npos, part);
    }
    CHECK(script.find("rest") == std::string::npos);
    CHECK(script.find(shell == Shell::kZsh ? "Say it'\\''s done" : "Say it\\'s done") !=
          std::string::npos);
  }
}

TEST_CASE("a manual page has each command and option, and no text is taken for a request of roff") {
  Sample sample;
  sample.app.footer("Examples:\n.start --loud");
  const std::string page = manual_page(sample.app, "1.2");
  CHECK(page.starts_with(".TH SOME\\-THING 1 \"\" \"some-thing 1.2\"\n"));
  for (const char* part :
       {".SS tell who\n\\&.dots at the front\n", "\\fB\\-r\\fR, \\fB\\-\\-role\\fR",
        "(one of member, closer)", "File (required)", "\\&.start \\-\\-loud"}) {
    CHECK_MESSAGE(page.find(part) != std::string::npos, part);
  }
}

TEST_CASE("the chipfall command prints its own pages") {
  for (const std::string shell : {"bash", "zsh", "fish"}) {
    std::ostringstream out, err;
    const char* const words[] = {"chipfall", "completion", shell.c_str()};
    CHECK(run(3, words, out, err) == kDone);
    CHECK(out.str().find("wind-down") != std::string::npos);
    CHECK(err.str().empty());
  }
  std::ostringstream out, err;
  const char* const page[] = {"chipfall", "manual-page"};
  CHECK(run(2, page, out, err) == kDone);
  CHECK(out.str().find(".SS wind\\-down\n") != std::string::npos);
  CHECK(out.str().find("Exit codes: 0 done") != std::string::npos);
  const char* const wrong[] = {"chipfall", "completion", "csh"};
  CHECK(run(3, wrong, out, err) == kUsage);
}

TEST_CASE("a joining code may come by standard input, where nobody else sees it") {
  const LedgerFolder folder;
  std::istringstream typed("XYZ\n");
  std::streambuf* before = std::cin.rdbuf(typed.rdbuf());
  std::ostringstream out, err;
  const std::string ledger = folder.file("ledger");
  const char* const words[] = {"chipfall", "join", "-", "--ledger", ledger.c_str()};
  CHECK(run(5, words, out, err) == kMistakes);
  std::cin.rdbuf(before);
  CHECK(typed.peek() == std::istringstream::traits_type::eof());
  CHECK(err.str().find("not a whole joining code") != std::string::npos);
}

}  // namespace
}  // namespace chipfall
