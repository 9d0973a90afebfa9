#include <cstdlib>

#include "sync/batch.h"

/// Batches: never more than a batch may have, and what was read can be sent on and read the same.
extern "C" int LLVMFuzzerTestOneInput(const unsigned char* bytes, std::size_t size) {
  using namespace chipfall;
  const auto entries = decode_batch({reinterpret_cast<const char*>(bytes), size});
  if (!entries) return 0;
  std::size_t total = 0;
  for (const std::string& entry : *entries) total += entry.size();
  if (entries->size() > kMostBatchEntries || total > kMostBatchBytes) std::abort();
  const auto sent_on = encode_batch(*entries);
  if (!sent_on) std::abort();
  const auto again = decode_batch(*sent_on);
  if (!again || *again != *entries) std::abort();
  return 0;
}
