#pragma once

#include "sync/hub_folder.h"

/// Backup and restore of a whole hub.
namespace chipfall {

/// Copies every shop and the hub's own key to a folder, which is made; no file there is written
/// over. A hub may serve meanwhile: each copy is the shop as of one moment. How many shops.
OrError<std::size_t> back_up_hub(const HubFolder& folder, const std::string& to);

/// Puts the copies of `from` in place, each in a new epoch, so that the phones notice and offer
/// again what the copies lack. What was there before keeps lying beside it (`.before-TIME`). The
/// key is taken from the copy only where the hub has none. No hub may serve meanwhile. How many
/// shops.
OrError<std::size_t> restore_hub(const HubFolder& folder, const std::string& from,
                                 std::int64_t now_utc_ms);

}  // namespace chipfall
