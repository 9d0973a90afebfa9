#include "core/door/refusal.h"

namespace chipfall {
namespace {

std::string_view code_word(ErrorCode code) {
  switch (code) {
    case ErrorCode::kUnreadable:
      return "unreadable";
    case ErrorCode::kMistake:
      return "mistake";
    case ErrorCode::kUnknown:
      return "unknown";
    case ErrorCode::kOutOfBounds:
      return "out of bounds";
  }
  return "mistake";
}

}  // namespace

void put_mistake(const Error& error, proto::Mistake& mistake) {
  mistake.set_code(std::string(code_word(error.code)));
  mistake.set_message(error.message);
  mistake.set_file(error.place.file);
  mistake.set_line(error.place.line);
  mistake.set_column(error.place.column);
  mistake.set_path(error.place.path);
}

void refuse(const Errors& errors, proto::Response& response) {
  for (const Error& error : errors) put_mistake(error, *response.add_mistakes());
}

void refuse(const Error& error, proto::Response& response) { refuse(Errors{error}, response); }

Error mistake(ErrorCode code, std::string message) { return {code, std::move(message), {}}; }

}  // namespace chipfall
