#include "core/shop/read_text.h"

namespace chipfall {

// Protobuf's text parser needs its full runtime, which is larger than the rest of a phone's core.
// Whoever writes the text has that: the door of a desktop or of the hub keeps the message beside
// it.
Reading read_text(const Text& text, google::protobuf::MessageLite&) {
  Reading reading;
  reading.place = [&text](std::string_view path) {
    return Place{text.name, 0, 0, std::string(path)};
  };
  reading.errors.push_back(
      {ErrorCode::kUnknown,
       "this device reads no text; load the sheet on a computer once and let it sync, or send the "
       "message itself",
       reading.place("")});
  return reading;
}

}  // namespace chipfall
