#pragma once

#include <cstdint>
#include <string>

#include "core/shop/error.h"

namespace chipfall::window {

/// The invented demo shop with three weeks behind it, recorded through the door into an empty data
/// folder: sessions with their lists, most of it done, some passed on, bins looked into, a machine
/// out of order, bags running low. `checklists` is the folder of that name. Always the same for the
/// same `now_ms`. Without a `past` it has its sheet alone. A folder that has a sheet already is
/// left as it is.
Result<void> record_demo(const std::string& folder, const std::string& checklists,
                         std::int64_t now_ms, bool past);

/// Wednesday 25 November 2026, a quarter to nine in the evening, in the demo shop.
inline constexpr std::int64_t kDemoEvening_ms = 1'795'661'100'000;

}  // namespace chipfall::window
