#pragma once

#include "core/proto/session.pb.h"
#include "core/shop/mistakes.h"

/// Every mistake in a session or a state against the shop that it belongs to, as field paths
/// without lines. Empty means that build_session or build_state may run.
namespace chipfall {

Errors check_session(const proto::Session& session, const Shop& shop);
Errors check_state(const proto::ShopState& state, const Shop& shop);

/// Minute of the day for `HH:MM` from 00:00 to 23:59; nothing for any other text.
std::optional<int> minute_of_day(std::string_view text);

}  // namespace chipfall
