#include <cstdlib>

#include "sync/frame.h"

/// Frames, alone and in a stream: no bytes may do more than be refused, and what was read is read
/// again the same.
extern "C" int LLVMFuzzerTestOneInput(const unsigned char* bytes, std::size_t size) {
  using namespace chipfall;
  const std::string_view input(reinterpret_cast<const char*>(bytes), size);
  static_cast<void>(decode_frame(input));
  // With the sum put right, so that more than the sum is tried.
  proto::Frame frame;
  if (frame.ParseFromArray(bytes, static_cast<int>(size))) {
    const auto again = decode_frame(encode_frame(frame));
    if (again && again->body_case() != frame.body_case()) std::abort();
  }
  FrameStream whole;
  whole.take(input);
  for (auto next = whole.next(); next && *next; next = whole.next()) {
    if ((*next)->size() > kMostFrameBytes) std::abort();
  }
  return 0;
}
