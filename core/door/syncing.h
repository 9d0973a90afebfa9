#pragma once

#include <functional>
#include <memory>

#include "core/ledger/store.h"
#include "core/proto/door.pb.h"

/// What the door asks of syncing: values in, values out. The door knows no protocol and the
/// protocol knows no door, so this stands between them; sync/door_syncing.h is what does it.
namespace chipfall {

/// What syncing gets from whoever opened the door.
struct SyncSources {
  std::function<std::int64_t()> now_ms;  ///< the wall clock
  /// Fills the bytes with ones that nobody can guess; false where it cannot. May be empty: then
  /// joining and connecting are refused.
  std::function<bool(std::span<std::uint8_t>)> random;
};

/// One ledger's membership in a hub and its connection there, one after another.
class Syncing {
 public:
  virtual ~Syncing() = default;
  Syncing() = default;
  Syncing(const Syncing&) = delete;
  Syncing& operator=(const Syncing&) = delete;

  struct Stepped {
    proto::SyncStep step;
    bool rebuild_views = false;  ///< entries took other names or were replaced
  };

  virtual OrError<proto::Joining> join(const proto::AskJoin& asked) = 0;
  /// After an error the connection, if there was one, counts as ended.
  virtual OrError<Stepped> step(const proto::SyncEvent& event) = 0;
  virtual OrError<proto::SyncState> state() = 0;
};

/// Over a ledger that outlives it. Opening one writes tables of its own into the ledger's file.
using OpenSyncing =
    std::function<OrError<std::unique_ptr<Syncing>>(LedgerStore& store, SyncSources sources)>;

/// The syncing of the library that is being put together: c_door.cpp gives it to every door. Not
/// defined in core: sync/door_syncing.cpp does, and another composition may do otherwise. Empty:
/// the library cannot sync, and says so when asked.
OpenSyncing syncing_of_library();

}  // namespace chipfall
