#pragma once

#include <CLI/CLI.hpp>

#include "preview/terminal/saying.h"

namespace chipfall {

/// `join` a hub with a one-time code, and `sync` with it.
void add_sync_commands(CLI::App& app, Command& chosen);

}  // namespace chipfall
