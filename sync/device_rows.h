#pragma once

#include <cstdint>

/// Numbers as the device's tables keep them. SQLite has signed ones only; ours stay below 2^63.
namespace chipfall {

constexpr std::int64_t stored(std::uint64_t number) { return static_cast<std::int64_t>(number); }
constexpr std::uint64_t read(std::int64_t number) { return static_cast<std::uint64_t>(number); }

}  // namespace chipfall
