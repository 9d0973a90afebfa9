#pragma once

#include <CLI/CLI.hpp>

#include "preview/terminal/door_client.h"
#include "preview/terminal/saying.h"

namespace chipfall {

/// standing, history and export: what the ledger says.
void add_ledger_commands(CLI::App& app, Command& chosen);

/// The door on a ledger's folder, or what to give where there is none.
Result<DoorClient> open_ledger(const std::string& folder, bool must_exist);

}  // namespace chipfall
