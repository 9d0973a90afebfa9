#pragma once

namespace chipfall {

/// Where devices find the WebSocket on a hub's port.
constexpr const char* kSyncPath = "/sync";

}  // namespace chipfall
