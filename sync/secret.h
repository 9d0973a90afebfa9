#pragma once

#include <string>
#include <string_view>

/// How a device proves that it is a member, and what the hub must keep for that.
///
/// A credential is 32 random bytes that the device makes when it joins and never sends. The hub
/// keeps a verifier, from which the credential does not follow. With
///
///     client_key = HMAC-SHA256(credential, "chipfall device 1")
///     verifier   = SHA-256(client_key)
///     seen       = "chipfall proof 1" and the parts of a Transcript, each with its length before
///     it proof      = client_key XOR HMAC-SHA256(verifier, seen)
///
/// the hub takes client_key out of the proof and looks whether its hash is the verifier. This is
/// the core of SCRAM-SHA-256 (RFC 5802, section 3; RFC 7677) without passwords: the credential is
/// random, so salt and iterations would add nothing.
///
/// Why not an HMAC with the hash itself: whoever stole the hub's database could then pose as any
/// device. Here the thief would also have to read inside TLS. Why not the credential itself inside
/// TLS: a hub that logs or leaks one connection would leak it for good, and a pinned key that was
/// stolen would collect all of them. Both nonces make a recording worthless; the channel binding
/// (TLS exporter, RFC 9266) makes a proof worthless on any other connection.
/// The hub proves itself by the pinned key of its TLS certificate.
namespace chipfall {

constexpr std::size_t kCredentialBytes = 32;
constexpr std::size_t kNonceBytes = 32;
constexpr std::size_t kHashBytes = 32;
constexpr std::size_t kShortHashBytes = 16;  ///< in Compare: enough to tell entries apart

std::string sha256(std::string_view bytes);
std::string short_hash(std::string_view bytes);  ///< SHA-256 cut to kShortHashBytes
std::string hmac_sha256(std::string_view key, std::string_view bytes);

/// Takes as long for equal as for unequal bytes of one length.
bool same_secret(std::string_view a, std::string_view b);

/// What both sides have seen of this connection.
struct Transcript {
  std::string_view hello;            ///< the bytes of the Frame with Hello, without the sum
  std::string_view challenge;        ///< the bytes of the Frame with Challenge, without the sum
  std::string_view channel_binding;  ///< 32 bytes of TLS exporter; empty where there is no TLS
};

std::string verifier_of(std::string_view credential);
/// Of a name that entries have and no device: no proof holds for it.
std::string no_verifier();
std::string proof_of(std::string_view credential, const Transcript& seen);
bool proof_holds(std::string_view verifier, std::string_view proof, const Transcript& seen);

}  // namespace chipfall
