#pragma once

#include <CLI/CLI.hpp>

#include "preview/terminal/saying.h"

namespace chipfall {

/// `lock-up` for whoever closes the shop, `bins`, `round` and `overview` for the coordinator.
void add_evening_commands(CLI::App& app, Command& chosen);

}  // namespace chipfall
