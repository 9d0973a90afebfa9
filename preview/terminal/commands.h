#pragma once

#include <iosfwd>

namespace chipfall {

/// Exit codes, as `chipfall --help` lists them.
enum ExitCode : int {
  kDone = 0,
  kMistakes = 1,   ///< a file or flag says something that cannot be right
  kUsage = 2,      ///< the command line itself is wrong
  kNotWritten = 3  ///< an output could not be written
};

/// The whole command: parses arguments, answers on `out`, explains on `err`. Never throws.
int run(int argc, const char* const* argv, std::ostream& out, std::ostream& err);

}  // namespace chipfall
