#include "sync/squeeze.h"

#include <zstd.h>

/// A phone's core expands what the hub squeezed and sends its own entries as they are: there are
/// few, and zstd's compressor would make every phone fetch more than it ever saves.
namespace chipfall {

std::string squeeze(std::string_view bytes) { return std::string(bytes); }

std::optional<std::string> expand(std::string_view bytes, std::size_t size) {
  std::string out(size, '\0');
  const std::size_t expanded = ZSTD_decompress(out.data(), out.size(), bytes.data(), bytes.size());
  if (ZSTD_isError(expanded) || expanded != size) return {};
  return out;
}

}  // namespace chipfall
