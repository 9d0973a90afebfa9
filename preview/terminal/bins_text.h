#pragma once

#include <string>

#include "core/proto/coordinator.pb.h"

/// What the coordinator is told, as plain text; takes the message and nothing else.
namespace chipfall {

/// The bins in order of need.
std::string bins_text(const proto::Bins& bins, int columns = 100);

/// Everything: bins, round, machines, supplies, layers, estimates, where the shop falls behind.
std::string coordinator_text(const proto::Coordinator& answer, int columns = 100);

/// "[#####..:..]": `#` up to the expected fill, `.` the rest, `:` or `|` where it is to be emptied.
std::string fill_bar(double fill_share, double empty_at_share);

}  // namespace chipfall
