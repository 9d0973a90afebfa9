#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

/// Protocol Buffers' wire format, byte by byte, for taking entries apart and putting them together
/// again exactly. Source: protobuf.dev/programming-guides/encoding.
namespace chipfall::wire {

enum Kind : std::uint32_t { kVarint = 0, kFixed64 = 1, kBytes = 2, kFixed32 = 5 };

constexpr std::uint64_t zigzag(std::int64_t value) {
  return (static_cast<std::uint64_t>(value) << 1) ^ static_cast<std::uint64_t>(value >> 63);
}

constexpr std::int64_t unzigzag(std::uint64_t value) {
  return static_cast<std::int64_t>((value >> 1) ^ (~(value & 1) + 1));
}

inline void put_varint(std::string& out, std::uint64_t value) {
  while (value >= 0x80) {
    out += static_cast<char>(value | 0x80);
    value >>= 7;
  }
  out += static_cast<char>(value);
}

/// Reads on from the front of what is left; nothing, and nothing is taken, where that cannot be.
class Reader {
 public:
  explicit Reader(std::string_view bytes) : left_(bytes) {}

  bool done() const { return left_.empty(); }
  std::size_t left() const { return left_.size(); }

  /// Only the shortest encoding: a longer one could not be put together again.
  std::optional<std::uint64_t> varint() {
    std::uint64_t value = 0;
    for (std::size_t i = 0; i < 10 && i < left_.size(); ++i) {
      const auto byte = static_cast<unsigned char>(left_[i]);
      if (i == 9 && byte > 1) return {};
      value |= std::uint64_t(byte & 0x7f) << (7 * i);
      if (byte & 0x80) continue;
      if (byte == 0 && i > 0) return {};
      left_.remove_prefix(i + 1);
      return value;
    }
    return {};
  }

  std::optional<std::string_view> bytes(std::uint64_t count) {
    if (count > left_.size()) return {};
    const std::string_view taken = left_.substr(0, static_cast<std::size_t>(count));
    left_.remove_prefix(taken.size());
    return taken;
  }

 private:
  std::string_view left_;
};

}  // namespace chipfall::wire
