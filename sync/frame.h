#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "core/ledger/sqlite.h"
#include "core/proto/sync.pb.h"

/// Frames: what travels in one WebSocket binary message, and how they follow each other on a plain
/// stream of bytes.
///
/// A frame is four bytes of CRC-32 (ISO-HDLC, little-endian) of the rest, then a proto::Frame. TLS
/// keeps attackers out; the sum tells of broken relays and memory before anything acts on it.
/// On a stream, each frame has its length before it: four bytes, little-endian.
namespace chipfall {

constexpr std::uint32_t kOldestProtocol = 1;  ///< that this program speaks
constexpr std::uint32_t kNewestProtocol = 1;

/// One batch of the largest entry, and room for its surroundings. Longer frames are refused before
/// their bytes are taken in.
constexpr std::size_t kMostFrameBytes = 96 * 1024;
constexpr std::size_t kFrameSumBytes = 4;

std::string encode_frame(const proto::Frame& frame);

/// A frame whose body this version does not know is no error: its body_case is BODY_NOT_SET.
OrError<proto::Frame> decode_frame(std::string_view bytes);

/// The version to speak: the newest within both ranges; none where they do not meet.
std::optional<std::uint32_t> common_version(const proto::VersionRange& device,
                                            const proto::VersionRange& hub);
proto::VersionRange own_versions();

/// Cuts a stream into frames, however its bytes arrive. Holds at most one frame.
class FrameStream {
 public:
  static std::string wrap(std::string_view frame);

  /// Takes what the stream brought. Call `next` until it has nothing before taking more.
  void take(std::string_view bytes) { held_.append(bytes); }

  /// The next whole frame, as `decode_frame` wants it; nothing while bytes are missing. An error,
  /// from then on, where a length is over kMostFrameBytes.
  OrError<std::optional<std::string>> next();

 private:
  std::string held_;
  bool broken_ = false;
};

/// An error of the protocol: there is no file to name.
inline tl::unexpected<Error> sync_error(ErrorCode code, std::string message) {
  return tl::unexpected(Error{code, std::move(message), {}});
}

}  // namespace chipfall
