#include "sync/frame.h"

#include <fmt/format.h>

#include <algorithm>
#include <boost/crc.hpp>

namespace chipfall {

namespace {

std::string four_bytes(std::uint32_t value) {
  std::string bytes;
  for (int i = 0; i < 4; ++i) bytes += static_cast<char>(value >> (8 * i));
  return bytes;
}

std::uint32_t number_of(std::string_view four) {
  std::uint32_t value = 0;
  for (int i = 3; i >= 0; --i) {
    value = value << 8 | static_cast<unsigned char>(four[static_cast<std::size_t>(i)]);
  }
  return value;
}

std::uint32_t sum_of(std::string_view bytes) {
  boost::crc_32_type crc;
  crc.process_bytes(bytes.data(), bytes.size());
  return crc.checksum();
}

}  // namespace

std::string encode_frame(const proto::Frame& frame) {
  const std::string body = frame.SerializeAsString();
  return four_bytes(sum_of(body)).append(body);
}

OrError<proto::Frame> decode_frame(std::string_view bytes) {
  if (bytes.size() > kMostFrameBytes) {
    return sync_error(ErrorCode::kOutOfBounds, fmt::format("a frame of {} bytes; the most is {}",
                                                           bytes.size(), kMostFrameBytes));
  }
  const std::string_view body = bytes.substr(std::min(kFrameSumBytes, bytes.size()));
  if (bytes.size() < kFrameSumBytes || number_of(bytes.substr(0, 4)) != sum_of(body)) {
    return sync_error(ErrorCode::kMistake, "a frame was damaged on its way; connect again");
  }
  proto::Frame frame;
  if (!frame.ParseFromArray(body.data(), static_cast<int>(body.size()))) {
    return sync_error(ErrorCode::kMistake, "a frame cannot be read; connect again");
  }
  return frame;
}

std::optional<std::uint32_t> common_version(const proto::VersionRange& device,
                                            const proto::VersionRange& hub) {
  const std::uint32_t newest = std::min(device.newest(), hub.newest());
  if (newest < std::max(device.oldest(), hub.oldest()) || newest == 0) return {};
  return newest;
}

proto::VersionRange own_versions() {
  proto::VersionRange range;
  range.set_oldest(kOldestProtocol);
  range.set_newest(kNewestProtocol);
  return range;
}

std::string FrameStream::wrap(std::string_view frame) {
  return four_bytes(static_cast<std::uint32_t>(frame.size())).append(frame);
}

OrError<std::optional<std::string>> FrameStream::next() {
  const auto broken = [] {
    return sync_error(ErrorCode::kOutOfBounds,
                      "a stream announces a frame beyond the bound; connect again");
  };
  if (broken_) return broken();
  if (held_.size() < 4) return std::nullopt;
  const std::uint32_t size = number_of(held_);
  if (size > kMostFrameBytes) {
    broken_ = true;
    held_.clear();
    return broken();
  }
  if (held_.size() < 4 + std::size_t(size)) return std::nullopt;
  std::string frame = held_.substr(4, size);
  held_.erase(0, 4 + std::size_t(size));
  return frame;
}

}  // namespace chipfall
