#include "sync/take_apart.h"

namespace chipfall::columns {

namespace {

std::uint64_t little_endian(std::string_view bytes) {
  std::uint64_t value = 0;
  for (std::size_t i = bytes.size(); i > 0; --i) {
    value = value << 8 | static_cast<unsigned char>(bytes[i - 1]);
  }
  return value;
}

/// Fills in what follows the tag; whether it could.
bool read_value(wire::Reader& reader, Part& part) {
  switch (part.tag & 7) {
    case wire::kVarint: {
      const auto value = reader.varint();
      if (value) part.number = *value;
      return value.has_value();
    }
    case wire::kFixed64: {
      const auto bytes = reader.bytes(8);
      if (bytes) part.number = little_endian(*bytes);
      return bytes.has_value();
    }
    case wire::kFixed32: {
      const auto bytes = reader.bytes(4);
      if (bytes) part.bytes = *bytes;
      return bytes.has_value();
    }
    case wire::kBytes: {
      const auto size = reader.varint();
      const auto bytes = size ? reader.bytes(*size) : std::nullopt;
      if (bytes) part.bytes = *bytes;
      return bytes.has_value();
    }
    default:
      return false;  // groups
  }
}

}  // namespace

std::optional<std::vector<Part>> take_apart(std::string_view bytes, const Shape& shape) {
  std::vector<Part> parts;
  wire::Reader reader(bytes);
  while (!reader.done()) {
    Part part;
    const auto tag = reader.varint();
    if (!tag || *tag < 8 || *tag > 0xffffffff) return {};
    part.tag = *tag;
    part.field = shape.find(static_cast<std::uint32_t>(*tag >> 3));
    if (!read_value(reader, part)) return {};
    if ((part.tag & 7) == wire::kBytes && part.field && part.field->message) {
      part.message = take_apart(part.bytes, *part.field->message);
    }
    parts.push_back(std::move(part));
  }
  return parts;
}

}  // namespace chipfall::columns
