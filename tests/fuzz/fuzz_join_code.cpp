#include <cstdlib>

#include "sync/join_code.h"

/// The text of a joining code, as a camera or a person gives it.
extern "C" int LLVMFuzzerTestOneInput(const unsigned char* bytes, std::size_t size) {
  using namespace chipfall;
  const auto code = read_join_code({reinterpret_cast<const char*>(bytes), size});
  if (!code) return 0;
  if (code->secret.size() != kJoinSecretBytes || code->fingerprint.size() != kFingerprintBytes) {
    std::abort();
  }
  const auto text = join_code_text(*code);
  if (!text) std::abort();
  const auto again = read_join_code(*text);
  if (!again || again->secret != code->secret || again->host != code->host) std::abort();
  return 0;
}
