#include <zstd.h>

#include "sync/squeeze.h"

namespace chipfall {

std::optional<std::string> expand(std::string_view bytes, std::size_t size) {
  std::string out(size, '\0');
  // One whole frame into a buffer of the stated size: zstd takes no window beside it.
  const std::size_t expanded = ZSTD_decompress(out.data(), out.size(), bytes.data(), bytes.size());
  if (ZSTD_isError(expanded) || expanded != size) return {};
  return out;
}

}  // namespace chipfall
