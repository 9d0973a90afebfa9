#pragma once

#include "core/crew/closing.h"
#include "core/proto/lock_up.pb.h"

namespace chipfall {

/// The lock-up as the message that every shell shows; see core/proto/lock_up.proto.
proto::LockUp answer_lock_up(const Shop& shop, const ClosingPlan& plan);

}  // namespace chipfall
