#pragma once

#include <string>

#include <CLI/CLI.hpp>

#include "preview/terminal/door_client.h"
#include "preview/terminal/files.h"
#include "preview/terminal/saying.h"

namespace chipfall {

/// check, wind-down, map and sheet: what is about one sheet and one session. Each puts what it does
/// into `chosen` when its line was read.
void add_session_commands(CLI::App& app, Command& chosen);

/// Makes a sheet the door's shop; `asked` says whether to keep it and under which name.
Result<proto::SheetLoaded> load_sheet(DoorClient& door, const Text& text,
                                      proto::LoadSheet asked = {});

}  // namespace chipfall
