#pragma once

#include <chrono>
#include <stdexcept>
#include <string>
#include <utility>

#include "core/ledger/sqlite.h"

/// What the measurements of the hub share.
namespace chipfall::load {

using Clock = std::chrono::steady_clock;

inline double seconds_since(Clock::time_point began) {
  return std::chrono::duration<double>(Clock::now() - began).count();
}

template <typename T>
T sure(OrError<T> result) {
  if (!result) throw std::runtime_error(result.error().text());
  if constexpr (!std::is_void_v<T>) return std::move(*result);
}

/// A line of the table: what was measured, beside its reference of the same run or its limit.
struct Line {
  std::string what, measured, beside, ratio;
};

}  // namespace chipfall::load
