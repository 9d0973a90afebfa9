#include <fmt/format.h>

#include "core/shop/read_text.h"

namespace chipfall {

Reading read_message(const Text& text, google::protobuf::MessageLite& message) {
  if (!text.message) return read_text(text, message);
  Reading reading;
  reading.place = [&text](std::string_view path) {
    return Place{text.name, 0, 0, std::string(path)};
  };
  if (text.message->size() > kMostSheetBytes) {
    reading.errors.push_back({ErrorCode::kOutOfBounds,
                              fmt::format("a message of {} bytes is too long; at most {}",
                                          text.message->size(), kMostSheetBytes),
                              reading.place("")});
    return reading;
  }
  reading.complete = message.ParseFromString(*text.message);
  if (!reading.complete) {
    reading.errors.push_back({ErrorCode::kUnreadable,
                              "these bytes are no such message; send them whole",
                              reading.place("")});
  }
  return reading;
}

}  // namespace chipfall
