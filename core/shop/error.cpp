#include "core/shop/error.h"

#include <fmt/format.h>

namespace chipfall {

std::string Error::text() const {
  std::string out = place.file;
  if (place.line > 0) out += fmt::format(":{}:{}", place.line, place.column);
  if (!out.empty()) out += ": ";
  if (!place.path.empty()) out += place.path + ": ";
  return out + message;
}

}  // namespace chipfall
