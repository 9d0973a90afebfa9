#pragma once

#include <string>
#include <vector>

#include <CLI/CLI.hpp>

#include "core/proto/door.pb.h"
#include "core/shop/error.h"

namespace chipfall {

/// What a command that is about one session was asked, as it was typed.
struct SessionOptions {
  std::string session;            ///< file; empty: from the flags
  std::string state;              ///< file; empty: what the ledger knows, else nothing carried over
  std::vector<std::string> used;  ///< machine:minutes:stock[:off]
  bool extraction_off = false;
  int people = 0;     ///< 0: as the session says, else 1
  std::string leave;  ///< HH:MM
  std::vector<std::string> open_gates;
  bool oily_rags = false;
  bool glue = false;
  double within_minutes = 0;  ///< 0: as long as it takes
  std::string now;            ///< file: the crew in the middle of cleaning up
};

/// Adds the arguments and flags to a command.
void add_session_options(CLI::App& command, SessionOptions& options);

/// The session as the door is asked for it, with its files read. Mistakes: files that cannot be
/// read, flags that cannot be taken apart.
Result<proto::PlanWindDown> plan_asked(const SessionOptions& options);

/// The door's mistakes about a session, located by the flags that it was made from.
Errors at_flags(Errors errors, const SessionOptions& options);

/// `--ledger FOLDER`, or what CHIPFALL_LEDGER says.
void add_ledger_option(CLI::App& command, std::string& folder);

}  // namespace chipfall
