#include "preview/terminal/saying.h"

#include <algorithm>
#include <cstdlib>
#include <ostream>
#include <stdexcept>

#include <google/protobuf/util/json_util.h>

namespace chipfall {
namespace {

/// Narrow enough to read on a phone held over a terminal, wide enough for a sentence.
constexpr int kNarrowest = 40;
constexpr int kWidest = 100;

}  // namespace

int columns() {
  const char* set = std::getenv("COLUMNS");
  const int asked = set != nullptr ? std::atoi(set) : 0;
  return asked > 0 ? std::clamp(asked, kNarrowest, kWidest) : 88;
}

int explain(const Errors& errors, std::ostream& err, ExitCode code) {
  for (const Error& error : errors) err << error.text() << "\n";
  return code;
}

Error flag_error(const std::string& flag, const std::string& message) {
  Error error{ErrorCode::kMistake, message, {}};
  error.place.file = flag;
  return error;
}

std::string json_text(const google::protobuf::Message& message) {
  google::protobuf::util::JsonPrintOptions options;
  options.add_whitespace = true;
  options.always_print_primitive_fields = true;
  std::string json;
  const auto status = google::protobuf::util::MessageToJsonString(message, &json, options);
  if (!status.ok()) throw std::runtime_error("writing JSON: " + status.ToString());
  return json;
}

}  // namespace chipfall
