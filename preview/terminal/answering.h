#pragma once

#include <memory>

#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include "preview/terminal/options.h"
#include "preview/terminal/saying.h"

namespace chipfall {

/// A command about a ledger whose answer is one message of the door, in words or as JSON. `Asked`
/// has the fields `ledger` and `json`.
template <typename Asked>
CLI::App& add_answering(CLI::App& app, Command& chosen, const char* name, const char* help,
                        const char* message, const std::shared_ptr<Asked>& asked,
                        int (*work)(const Asked&, std::ostream&, std::ostream&)) {
  CLI::App* command = app.add_subcommand(name, help);
  add_ledger_option(*command, asked->ledger);
  command->add_flag("--json", asked->json,
                    fmt::format("Answer as JSON (message chipfall.proto.{})", message));
  command->callback([asked, work, &chosen] {
    chosen = [asked, work](std::ostream& out, std::ostream& err) { return work(*asked, out, err); };
  });
  return *command;
}

}  // namespace chipfall
