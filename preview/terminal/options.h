#pragma once

#include <string>
#include <vector>

#include <CLI/CLI.hpp>

#include "core/shop/error.h"
#include "core/shop/session.h"

namespace chipfall {

/// What a command that is about one session was asked, as it was typed.
struct SessionOptions {
  std::string sheet;
  std::string session;            ///< file; empty: from the flags
  std::string state;              ///< file; empty: nothing carried over
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

/// A shop with the session and the state that the options name.
struct Request {
  Shop shop;
  Session session;
  ShopState state;
};

/// Reads and checks it all; mistakes in flags are located by the flag.
Result<Request> load_request(const SessionOptions& options);

}  // namespace chipfall
