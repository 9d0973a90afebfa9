#pragma once

#include "core/crew/evening.h"
#include "core/door/answer_crew.h"
#include "core/proto/wind_down.pb.h"

/// The wind-down as the message that every shell shows; see core/proto/wind_down.proto.
namespace chipfall {

proto::WindDown answer(const Shop& shop, const ShopState& state, const Session& session,
                       const Evening& evening);

}  // namespace chipfall
