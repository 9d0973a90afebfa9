#include <cstdlib>

#include <mbedtls/constant_time.h>
#include <mbedtls/md.h>
#include <mbedtls/sha256.h>

#include "sync/secret.h"

/// What secret.h needs of a library for cryptography, by Mbed TLS: the few files of it that a
/// phone's core takes along are a hundredth of OpenSSL.
namespace chipfall {

namespace {

const unsigned char* unsigned_bytes(std::string_view bytes) {
  return reinterpret_cast<const unsigned char*>(bytes.data());
}

/// In software nothing of this fails, but for want of memory.
void must(int result) {
  if (result != 0) std::abort();
}

}  // namespace

std::string sha256(std::string_view bytes) {
  std::string hash(kHashBytes, '\0');
  must(mbedtls_sha256_ret(unsigned_bytes(bytes), bytes.size(),
                          reinterpret_cast<unsigned char*>(hash.data()), 0));
  return hash;
}

std::string hmac_sha256(std::string_view key, std::string_view bytes) {
  std::string code(kHashBytes, '\0');
  must(mbedtls_md_hmac(mbedtls_md_info_from_type(MBEDTLS_MD_SHA256), unsigned_bytes(key),
                       key.size(), unsigned_bytes(bytes), bytes.size(),
                       reinterpret_cast<unsigned char*>(code.data())));
  return code;
}

bool same_secret(std::string_view a, std::string_view b) {
  return a.size() == b.size() && mbedtls_ct_memcmp(a.data(), b.data(), a.size()) == 0;
}

}  // namespace chipfall
