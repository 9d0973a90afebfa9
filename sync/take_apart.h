#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "sync/columns.h"

/// A message as the fields it is written of, each still as its bytes.
namespace chipfall::columns {

struct Part {
  std::uint64_t tag = 0;
  std::uint64_t number = 0;      ///< of varints and 64-bit fields
  std::string_view bytes;        ///< of byte and 32-bit fields
  const Field* field = nullptr;  ///< null: not known
  /// Of messages that could be taken apart themselves.
  std::optional<std::vector<Part>> message;
};

/// The parts of `bytes`; nothing where putting them together would not give the same bytes.
std::optional<std::vector<Part>> take_apart(std::string_view bytes, const Shape& shape);

}  // namespace chipfall::columns
