#pragma once

#include "core/door/draft.h"
#include "core/ledger/views.h"

/// What there is to pick from in a shop, what was used last first; see ShopLists in
/// core/proto/door.proto.
namespace chipfall {

inline constexpr int kRecentUse_days = 90;  ///< what was used before is no habit any more [c.p.]
inline constexpr int kMostRecent = 5;       ///< sessions to begin from: what a phone shows at once

/// `views` null: nothing is kept, so nothing was used. `own_device` is this device's name.
OrError<proto::ShopLists> shop_lists(const OpenShop& open, Views* views,
                                     const std::string& own_device, std::int64_t now_ms);

/// A saved list as it stands; see ListNow. Nothing where no such session is here.
OrError<std::optional<proto::ListNow>> list_now(Views& views, const ShopClock& clock,
                                                const std::optional<EntryRef>& session,
                                                const std::string& own_device, std::int64_t now_ms);

}  // namespace chipfall
