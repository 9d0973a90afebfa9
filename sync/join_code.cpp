#include "sync/join_code.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <optional>
#include <vector>

#include "sync/frame.h"

namespace chipfall {

namespace {

constexpr std::string_view kLetters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
constexpr std::string_view kBegin = "CF1";

std::string letters_of(std::string_view bytes) {
  std::string text;
  unsigned held = 0;
  int bits = 0;
  for (const char byte : bytes) {
    held = (held << 8 | static_cast<unsigned char>(byte)) & 0xffff;
    bits += 8;
    while (bits >= 5) {
      bits -= 5;
      text += kLetters[held >> bits & 31];
    }
  }
  if (bits > 0) text += kLetters[held << (5 - bits) & 31];
  return text;
}

std::optional<std::string> bytes_of(std::string_view text, std::size_t count) {
  std::string bytes;
  unsigned held = 0;
  int bits = 0;
  for (char letter : text) {
    if (letter == '-' || letter == ' ') continue;
    if (letter >= 'a' && letter <= 'z') letter = static_cast<char>(letter - 'a' + 'A');
    if (letter == 'O') letter = '0';
    if (letter == 'I' || letter == 'L') letter = '1';
    const std::size_t value = kLetters.find(letter);
    if (value == std::string_view::npos) return {};
    held = (held << 5 | static_cast<unsigned>(value)) & 0xffff;
    bits += 5;
    if (bits < 8) continue;
    bits -= 8;
    bytes += static_cast<char>(held >> bits);
  }
  // What is left over must be padding, and nothing of another length reads as this.
  if (bytes.size() != count || bits >= 5 || (held & ((1u << bits) - 1)) != 0) return {};
  return bytes;
}

bool host_fits(std::string_view host) {
  return !host.empty() && host.size() <= kMostHostBytes &&
         std::all_of(host.begin(), host.end(), [](char c) {
           return (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '.' || c == '-' ||
                  c == ':';
         });
}

std::string upper(std::string_view text) {
  std::string out(text);
  for (char& c : out) {
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  }
  return out;
}

tl::unexpected<Error> not_a_code(const char* what) {
  return sync_error(ErrorCode::kMistake,
                    fmt::format("this is not a whole joining code ({}); scan or type it again, or "
                                "ask the coordinator for a new one",
                                what));
}

}  // namespace

OrError<std::string> join_code_text(const JoinCode& code) {
  const std::string host = upper(code.host);
  if (!host_fits(host) || code.port == 0) {
    return sync_error(ErrorCode::kMistake,
                      fmt::format("the hub's address `{}` port {} cannot go into a joining code; "
                                  "give a name or number of at most {} letters, digits, . - :",
                                  code.host, code.port, kMostHostBytes));
  }
  if (code.fingerprint.size() != kFingerprintBytes || code.secret.size() != kJoinSecretBytes) {
    return sync_error(ErrorCode::kMistake, "fingerprint or secret has a wrong length");
  }
  return fmt::format("{}*{}*{}*{}*{}", kBegin, host, code.port, letters_of(code.fingerprint),
                     letters_of(code.secret));
}

OrError<JoinCode> read_join_code(std::string_view text) {
  // Twice, so that a code grouped for the eye passes; nothing longer is looked at.
  if (text.size() > 2 * kMostJoinCodeText) return not_a_code("too long");
  while (!text.empty() && (text.back() == ' ' || text.back() == '\n' || text.back() == '\r')) {
    text.remove_suffix(1);
  }
  std::vector<std::string> parts(1);
  for (const char c : text) {
    if (c == '*') {
      parts.emplace_back();
    } else {
      parts.back() += c;
    }
  }
  if (parts.size() != 5 || upper(parts[0]) != kBegin) return not_a_code("it has other parts");
  JoinCode code;
  code.host = upper(parts[1]);
  if (!host_fits(code.host)) return not_a_code("its address");
  const char* end = parts[2].data() + parts[2].size();
  const auto [stopped, failed] = std::from_chars(parts[2].data(), end, code.port);
  if (failed != std::errc() || stopped != end || code.port == 0) return not_a_code("its port");
  const auto fingerprint = bytes_of(parts[3], kFingerprintBytes);
  if (!fingerprint) return not_a_code("the hub's fingerprint");
  const auto secret = bytes_of(parts[4], kJoinSecretBytes);
  if (!secret) return not_a_code("its secret");
  code.fingerprint = *fingerprint;
  code.secret = *secret;
  return code;
}

}  // namespace chipfall
