#pragma once

#include <string>

#include "core/proto/lock_up.pb.h"

namespace chipfall {

/// The lock-up as text to walk the shop with: how long, then each duty in walking order with its
/// place; what of it was left over by whom and why; what is signed off at the door. `columns` is
/// the width to wrap at.
std::string lock_up_text(const proto::LockUp& answer, int columns);

}  // namespace chipfall
