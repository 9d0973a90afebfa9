#pragma once

#include <CLI/CLI.hpp>

#include "preview/terminal/saying.h"

namespace chipfall {

/// `record` and its kinds: what happened, into the ledger.
void add_record_commands(CLI::App& app, Command& chosen);

}  // namespace chipfall
