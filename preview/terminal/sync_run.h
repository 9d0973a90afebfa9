#pragma once

#include <iosfwd>
#include <string>

/// What `chipfall join` and `chipfall sync` do: a link (sync/link.h) that carries messages between
/// the hub's socket and the door. All else is the door's.
namespace chipfall {

enum class SyncExit {
  kDone = 0,      ///< joined; or everything is at the hub
  kMistake = 1,   ///< in the code or the flags, or the hub refused
  kFailed = 3,    ///< the ledger's file
  kNotYet = 4,    ///< the hub was not reached or not everything got through; nothing is lost
  kWrongKey = 5,  ///< whoever answered is not the hub that was joined
};

struct SyncOptions {
  std::string folder;        ///< with the ledger; made when joining
  std::string code;          ///< join first, with this code
  std::string label;         ///< what people call this device; may be empty
  bool stay = false;         ///< until SIGINT or SIGTERM; else once
  std::string installation;  ///< folder of the installation's name; empty: the usual one
};

/// Progress goes to `out`, one line whenever something changed; what went wrong to `err`.
int run_sync(const SyncOptions& options, std::ostream& out, std::ostream& err);

}  // namespace chipfall
