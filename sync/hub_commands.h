#pragma once

#include <iosfwd>

/// The `chipfall-hub` command.
namespace chipfall {

/// Of chipfall-hub, also written in its --help.
enum class HubExit {
  kDone = 0,
  kMistake = 1,  ///< in a file, a setting or what was asked for
  kCommandLine = 2,
  kFailed = 3,  ///< disk, port, damage
};

int run_hub_command(int argc, const char* const* argv, std::ostream& out, std::ostream& err);

}  // namespace chipfall
