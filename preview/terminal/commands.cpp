#include "preview/terminal/commands.h"

#include <exception>
#include <ostream>

#include <CLI/CLI.hpp>

#include "core/door/chipfall.h"
#include "preview/terminal/door_client.h"
#include "preview/terminal/evening_commands.h"
#include "preview/terminal/ledger_commands.h"
#include "preview/terminal/record_commands.h"
#include "preview/terminal/session_commands.h"
#include "preview/terminal/sync_commands.h"
#include "sync/command_pages.h"

namespace chipfall {
namespace {

constexpr const char* kFooter = R"(
Examples:
  chipfall check shop.textproto --session tonight.textproto
  chipfall wind-down shop.textproto tonight.textproto --people 3 --leave 21:30
  chipfall wind-down shop.textproto --use table-saw:20:red-oak --use planer:10:cherry:off
  chipfall map shop.textproto tonight.textproto --out dust.svg
  chipfall sheet shop.textproto tonight.textproto --out list.pdf
  chipfall record sheet shop.textproto --ledger our-shop
  chipfall record session --use table-saw:20:red-oak --ledger our-shop
  chipfall record done zone:saw-floor --minutes 6 --ledger our-shop
  chipfall lock-up --people 2 --ledger our-shop
  chipfall round --next-round 7 --ledger our-shop
  chipfall history --ledger our-shop

Exit codes: 0 done; 1 mistakes in a file or flag, each with its place; 2 wrong command line;
3 an output could not be written.)";

}  // namespace

int run(int argc, const char* const* argv, std::ostream& out, std::ostream& err) {
  try {
    CLI::App app("Closing duties for a community woodshop, sized to the dust that was made.",
                 "chipfall");
    Command chosen;
    app.set_version_flag("--version", std::string("chipfall ") + cf_version());
    app.footer(kFooter);
    std::string language;
    app.add_option("--language", language,
                   "Answers in a language that nobody speaks, before the command: en-XA, longer "
                   "and accented, or ar-XB, from right to left")
        ->check(CLI::IsMember({"en-XA", "ar-XB"}));
    app.require_subcommand(1);
    add_session_commands(app, chosen);
    add_record_commands(app, chosen);
    add_evening_commands(app, chosen);
    add_ledger_commands(app, chosen);
    add_sync_commands(app, chosen);
    add_page_commands(app, cf_version(), [&chosen](std::string page) {
      chosen = [page](std::ostream& to, std::ostream&) {
        to << page;
        return kDone;
      };
    });
    try {
      app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
      return app.exit(error, out, err) == 0 ? kDone : kUsage;
    }
    DoorClient::speak(language);
    const int code = chosen(out, err);
    out.flush();
    if (out) return code;
    err << "standard output: could not be written; is the disk full or the pipe closed?\n";
    return kNotWritten;
  } catch (const std::exception& error) {
    err << "chipfall: " << error.what() << "\n";
    return kNotWritten;
  }
}

}  // namespace chipfall
