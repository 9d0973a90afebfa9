#include <openssl/crypto.h>
#include <openssl/evp.h>
#include <openssl/hmac.h>
#include <openssl/sha.h>

#include "sync/secret.h"

/// What secret.h needs of a library for cryptography, by OpenSSL; sync/lite has a phone's.
namespace chipfall {

namespace {

const unsigned char* unsigned_bytes(std::string_view bytes) {
  return reinterpret_cast<const unsigned char*>(bytes.data());
}

}  // namespace

std::string sha256(std::string_view bytes) {
  std::string hash(kHashBytes, '\0');
  SHA256(unsigned_bytes(bytes), bytes.size(), reinterpret_cast<unsigned char*>(hash.data()));
  return hash;
}

std::string hmac_sha256(std::string_view key, std::string_view bytes) {
  std::string code(kHashBytes, '\0');
  unsigned int size = 0;
  HMAC(EVP_sha256(), key.data(), static_cast<int>(key.size()), unsigned_bytes(bytes), bytes.size(),
       reinterpret_cast<unsigned char*>(code.data()), &size);
  return code;
}

bool same_secret(std::string_view a, std::string_view b) {
  return a.size() == b.size() && CRYPTO_memcmp(a.data(), b.data(), a.size()) == 0;
}

}  // namespace chipfall
