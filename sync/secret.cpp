#include "sync/secret.h"

namespace chipfall {

namespace {

std::string client_key(std::string_view credential) {
  return hmac_sha256(credential, "chipfall device 1");
}

std::string seen_bytes(const Transcript& seen) {
  std::string bytes = "chipfall proof 1";
  for (const std::string_view part : {seen.hello, seen.challenge, seen.channel_binding}) {
    for (int i = 0; i < 4; ++i) bytes += static_cast<char>(part.size() >> (8 * i));
    bytes += part;
  }
  return bytes;
}

std::string either_or(std::string_view a, std::string_view b) {
  std::string bytes(a);
  for (std::size_t i = 0; i < bytes.size(); ++i) bytes[i] = static_cast<char>(bytes[i] ^ b[i]);
  return bytes;
}

}  // namespace

std::string short_hash(std::string_view bytes) { return sha256(bytes).substr(0, kShortHashBytes); }

std::string verifier_of(std::string_view credential) { return sha256(client_key(credential)); }

std::string no_verifier() { return std::string(kHashBytes, '\0'); }

std::string proof_of(std::string_view credential, const Transcript& seen) {
  const std::string key = client_key(credential);
  return either_or(key, hmac_sha256(sha256(key), seen_bytes(seen)));
}

bool proof_holds(std::string_view verifier, std::string_view proof, const Transcript& seen) {
  if (verifier.size() != kHashBytes || proof.size() != kHashBytes) return false;
  const std::string key = either_or(proof, hmac_sha256(verifier, seen_bytes(seen)));
  return same_secret(sha256(key), verifier);
}

}  // namespace chipfall
