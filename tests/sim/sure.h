#pragma once

#include <stdexcept>
#include <utility>

#include "core/ledger/sqlite.h"

namespace chipfall::sim {

/// The value. What fails here is no weather but a broken run.
template <typename T>
T sure(OrError<T> result) {
  if (!result) throw std::runtime_error(result.error().text());
  if constexpr (!std::is_void_v<T>) return std::move(*result);
}

}  // namespace chipfall::sim
