#pragma once

#include <string>

#include "core/proto/coordinator.pb.h"

namespace chipfall {

/// The emptying round as plain text, in walking order; takes the message and nothing else.
std::string round_text(const proto::Round& round, int columns = 100);

}  // namespace chipfall
