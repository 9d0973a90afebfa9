#pragma once

#include <string>
#include <vector>

#include "tests/tools/hub_load/measured.h"

namespace chipfall::load {

/// Many devices push to one hub at once: entries a second that are acknowledged, so on disk, and
/// how long a push waits for that.
std::vector<Line> measure_push(int devices, int entries, const std::string& path);

/// What the hub's memory grows by for a device that is connected, has proved itself and says
/// nothing.
std::vector<Line> measure_idle(int connections, const std::string& path);

}  // namespace chipfall::load
