#include "sync/squeeze.h"

#include <zstd.h>

#include <memory>

namespace chipfall {

namespace {

/// Batches are small: a high level costs little, and every byte is paid for on a bad network.
constexpr int kLevel = 12;

}  // namespace

std::string squeeze(std::string_view bytes) {
  std::string out(ZSTD_compressBound(bytes.size()), '\0');
  const std::unique_ptr<ZSTD_CCtx, decltype(&ZSTD_freeCCtx)> context(ZSTD_createCCtx(),
                                                                     &ZSTD_freeCCtx);
  if (!context) return std::string(bytes);
  ZSTD_CCtx_setParameter(context.get(), ZSTD_c_compressionLevel, kLevel);
  ZSTD_CCtx_setParameter(context.get(), ZSTD_c_contentSizeFlag, 0);
  const std::size_t size =
      ZSTD_compress2(context.get(), out.data(), out.size(), bytes.data(), bytes.size());
  if (ZSTD_isError(size)) return std::string(bytes);  // not smaller, so it is not used
  out.resize(size);
  return out;
}

}  // namespace chipfall
