#include "preview/terminal/sync_commands.h"

#include <filesystem>
#include <iostream>
#include <memory>
#include <string>

#include "core/door/door.h"
#include "preview/terminal/options.h"
#include "sync/run_sync.h"

namespace chipfall {
namespace {

struct Asked {
  std::string folder;
  SyncOptions sync;
};

constexpr const char* kExitCodes =
    "Exit codes: 0 done; 1 mistakes, or the hub refused; 3 the ledger could not be read or "
    "written; 4 not everything got through yet, nothing is lost; 5 whoever answered is not the "
    "hub that was joined.";

/// Joining makes the folder, since it is often the first thing that a new device does.
int sync_command(Asked& asked, std::ostream& out, std::ostream& err) {
  if (asked.folder.empty()) {
    return explain({flag_error("--ledger",
                               "say where things are recorded: --ledger FOLDER, or set "
                               "CHIPFALL_LEDGER to it")},
                   err, kMistakes);
  }
  const std::filesystem::path folder(asked.folder);
  std::error_code failed;
  if (!asked.sync.code.empty()) std::filesystem::create_directories(folder, failed);
  if (failed) {
    return explain({flag_error("--ledger " + asked.folder,
                               "the folder could not be made: " + failed.message())},
                   err, kMistakes);
  }
  // Others on the same computer see what stands on a command line.
  if (asked.sync.code == "-" && !std::getline(std::cin, asked.sync.code)) asked.sync.code = "-";
  asked.sync.ledger = (folder / kLedgerFile).string();
  return run_sync(asked.sync, out, err);
}

CLI::App& add(CLI::App& app, Command& chosen, const char* name, const char* help,
              const std::shared_ptr<Asked>& asked) {
  CLI::App* command = app.add_subcommand(name, help);
  command->footer(kExitCodes);
  add_ledger_option(*command, asked->folder);
  command->add_flag("--stay", asked->sync.stay, "Go on until interrupted; else once");
  command->callback([asked, &chosen] {
    chosen = [asked](std::ostream& out, std::ostream& err) {
      return sync_command(*asked, out, err);
    };
  });
  return *command;
}

}  // namespace

void add_sync_commands(CLI::App& app, Command& chosen) {
  const auto joining = std::make_shared<Asked>();
  CLI::App& join =
      add(app, chosen, "join", "Join a shop's hub with a one-time code, then sync", joining);
  join.add_option("code", joining->sync.code,
                  "The code that the coordinator made; - reads it from standard input")
      ->required();
  join.add_option("--label", joining->sync.label, "What people call this device");
  add(app, chosen, "sync", "Send what is recorded here to the hub and fetch what others recorded",
      std::make_shared<Asked>());
}

}  // namespace chipfall
