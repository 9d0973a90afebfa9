#include "preview/terminal/sync_commands.h"

#include <iostream>
#include <memory>
#include <string>

#include "preview/terminal/options.h"
#include "preview/terminal/sync_run.h"

namespace chipfall {
namespace {

constexpr const char* kExitCodes =
    "Exit codes: 0 done; 1 mistakes, or the hub refused; 3 the ledger could not be read or "
    "written; 4 not everything got through yet, nothing is lost; 5 whoever answered is not the "
    "hub that was joined.";

CLI::App& add(CLI::App& app, Command& chosen, const char* name, const char* help,
              const std::shared_ptr<SyncOptions>& asked) {
  CLI::App* command = app.add_subcommand(name, help);
  command->footer(kExitCodes);
  add_ledger_option(*command, asked->folder);
  command->add_flag("--stay", asked->stay, "Go on until interrupted; else once");
  command->callback([asked, &chosen] {
    chosen = [asked](std::ostream& out, std::ostream& err) {
      // Others on the same computer see what stands on a command line.
      if (asked->code == "-" && !std::getline(std::cin, asked->code)) asked->code = "-";
      return run_sync(*asked, out, err);
    };
  });
  return *command;
}

}  // namespace

void add_sync_commands(CLI::App& app, Command& chosen) {
  const auto joining = std::make_shared<SyncOptions>();
  CLI::App& join =
      add(app, chosen, "join", "Join a shop's hub with a one-time code, then sync", joining);
  join.add_option("code", joining->code,
                  "The code that the coordinator made; - reads it from standard input")
      ->required();
  join.add_option("--label", joining->label, "What people call this device");
  add(app, chosen, "sync", "Send what is recorded here to the hub and fetch what others recorded",
      std::make_shared<SyncOptions>());
}

}  // namespace chipfall
