#pragma once

#include "core/duty/wind_down.h"
#include "core/proto/wind_down.pb.h"

/// The wind-down as the message that every shell shows; see core/proto/wind_down.proto.
namespace chipfall {

proto::WindDown answer(const Shop& shop, const ShopState& state, const Session& session,
                       const WindDown& list);

/// The same with the geometry that a drawing needs.
proto::DustMap dust_map(const Shop& shop, const ShopState& state, const Session& session,
                        const WindDown& list);

/// `HH:MM` of a minute of the day, which may lie on the day before or after.
std::string clock_text(int minute_of_day);

}  // namespace chipfall
