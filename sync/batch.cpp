#include "sync/batch.h"

#include <fmt/format.h>

#include "sync/frame.h"
#include "sync/squeeze.h"
#include "sync/wire.h"

namespace chipfall {

namespace {

constexpr char kFormat = 1;
constexpr char kAsIs = 0;
constexpr char kSqueezed = 1;

tl::unexpected<Error> damaged(const char* what) {
  return sync_error(
      ErrorCode::kMistake,
      fmt::format("a batch of entries is damaged ({}); nothing of it was taken, ask for it again",
                  what));
}

}  // namespace

OrError<std::string> encode_batch(std::span<const std::string> entries) {
  std::size_t size = 0;
  for (const std::string& entry : entries) size += entry.size();
  if (entries.size() > kMostBatchEntries || size > kMostBatchBytes) {
    return sync_error(ErrorCode::kOutOfBounds,
                      fmt::format("a batch of {} entries and {} bytes; at most {} and {} go into "
                                  "one: send several",
                                  entries.size(), size, kMostBatchEntries, kMostBatchBytes));
  }
  const std::string columns = columns_of(entries);
  std::string batch = {kFormat, kSqueezed};
  wire::put_varint(batch, columns.size());
  const std::string squeezed = squeeze(columns);
  const bool smaller = squeezed.size() < columns.size();
  if (!smaller) batch[1] = kAsIs;
  batch += smaller ? squeezed : columns;
  return batch;
}

OrError<std::vector<std::string>> decode_batch(std::string_view batch) {
  wire::Reader reader(batch);
  const auto head = reader.bytes(2);
  if (!head) return damaged("too short");
  if ((*head)[0] != kFormat) return damaged("its format is not known here");
  const auto size = reader.varint();
  if (!size || *size > kMostColumnBytes) return damaged("its size is beyond what a batch can have");
  const std::string_view body = *reader.bytes(reader.left());
  std::string columns;
  if ((*head)[1] == kAsIs) {
    if (body.size() != *size) return damaged("it has another size than it says");
    columns = body;
  } else if ((*head)[1] == kSqueezed) {
    auto expanded = expand(body, static_cast<std::size_t>(*size));
    if (!expanded) return damaged("it cannot be decompressed");
    columns = std::move(*expanded);
  } else {
    return damaged("its compression is not known here");
  }
  auto entries = entries_of(columns);
  if (!entries) return damaged("its columns do not fit together");
  return std::move(*entries);
}

}  // namespace chipfall
