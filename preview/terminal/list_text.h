#pragma once

#include <string>

#include "core/proto/wind_down.pb.h"

namespace chipfall {

/// The wind-down as text to follow with a broom in the other hand: when to stop, how long, then
/// each duty in order with its place, tool, minutes and reason. `columns` is the width to wrap at.
std::string list_text(const proto::WindDown& answer, int columns);

}  // namespace chipfall
