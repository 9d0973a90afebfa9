#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "core/ledger/sqlite.h"

/// What the coordinator hands to a new device: where the hub is, how to know it, and a secret that
/// is good once.
///
/// As text, also in a QR code of the alphanumeric mode: `CF1*host*port*fingerprint*secret`, all in
/// capitals; fingerprint and secret in Crockford's base 32, in which O reads as 0 and I and L as 1.
/// Dashes and spaces are for the eye and are skipped. Source: crockford.com/base32.html [memory].
namespace chipfall {

constexpr std::size_t kJoinSecretBytes = 10;   ///< 80 bits, 16 letters
constexpr std::size_t kFingerprintBytes = 32;  ///< SHA-256 of the key's SubjectPublicKeyInfo
constexpr std::int64_t kJoinCodeLasts_ms = 15 * 60'000;
constexpr std::size_t kMostJoinCodeText = 200;  ///< so that the QR code stays legible
constexpr std::size_t kMostHostBytes = 100;

struct JoinCode {
  std::string host;
  std::uint16_t port = 0;
  std::string fingerprint;
  std::string secret;
};

OrError<std::string> join_code_text(const JoinCode& code);
OrError<JoinCode> read_join_code(std::string_view text);

}  // namespace chipfall
