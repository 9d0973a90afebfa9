#pragma once

#include "core/crew/evening.h"
#include "core/door/draft.h"
#include "core/door/remembered.h"
#include "core/proto/wind_down.pb.h"

/// The plan with what lies where, as the message that every shell draws; see
/// core/proto/wind_down.proto.
namespace chipfall {

/// Of one session: after it, before anybody cleans.
proto::DustMap session_map(const Shop& shop, const ShopState& state, const Session& session,
                           const Evening& evening);

/// Of the shop as its ledger remembers it now; `remembered` null: as clean as it was built.
proto::DustMap shop_map(const OpenShop& open, const Remembered* remembered);

}  // namespace chipfall
