#pragma once

#include "core/ledger/views.h"
#include "core/shop/session.h"

namespace chipfall {

/// The state of the shop as the ledger's views tell it, at `now_ms`.
///
/// So far only machines out of order are taken from the views: bins count as never seen and zones
/// as clean.
OrError<ShopState> remembered_state(const Shop& shop, Views& views, std::int64_t now_ms);

}  // namespace chipfall
