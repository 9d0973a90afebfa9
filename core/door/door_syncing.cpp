#include "core/door/door.h"
#include "core/door/refusal.h"

/// Requests that join a hub and carry bytes to and from it.
namespace chipfall {

OrError<Syncing*> Door::syncing() {
  if (!syncing_) {
    if (!options_.open_syncing) {
      return tl::unexpected(mistake(ErrorCode::kUnknown, "this build of the library cannot sync"));
    }
    OrError<std::unique_ptr<Syncing>> opened =
        options_.open_syncing(*store_, {options_.now_ms, options_.random});
    if (!opened) return tl::unexpected(opened.error());
    syncing_ = *std::move(opened);
  }
  return syncing_.get();
}

void Door::sync(const proto::Request& request, proto::Response& response) {
  if (!has_ledger(response)) return;
  const OrError<Syncing*> here = syncing();
  if (!here) return refuse(here.error(), response);
  try {
    answer_sync(**here, request, response);
  } catch (...) {
    // Memory ran out somewhere within the protocol: what it holds of this connection is worth
    // nothing. All that counts is in the ledger's file.
    syncing_.reset();
    throw;
  }
}

void Door::answer_sync(Syncing& here, const proto::Request& request, proto::Response& response) {
  if (request.has_join()) {
    OrError<proto::Joining> joining = here.join(request.join());
    if (!joining) return refuse(joining.error(), response);
    *response.mutable_joining() = *std::move(joining);
  } else if (request.has_sync_state()) {
    OrError<proto::SyncState> state = here.state();
    if (!state) return refuse(state.error(), response);
    *response.mutable_sync_state() = *std::move(state);
  } else {
    OrError<Syncing::Stepped> stepped = here.step(request.sync());
    if (!stepped) return refuse(stepped.error(), response);
    if (stepped->rebuild_views) {
      const OrError<void> rebuilt = views_->rebuild();
      if (!rebuilt) return refuse(rebuilt.error(), response);
      ++changes_;
    }
    *response.mutable_sync() = std::move(stepped->step);
  }
}

}  // namespace chipfall
