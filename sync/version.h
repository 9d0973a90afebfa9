#pragma once

namespace chipfall {

constexpr const char* kChipfallVersion = "0.1.0";

}  // namespace chipfall
