#pragma once

#include <functional>
#include <string_view>

#include <google/protobuf/message_lite.h>

#include "core/shop/error.h"
#include "core/shop/load.h"

/// Protobuf messages as people write them and as programs hand them on, read with mistakes that say
/// where they stand and what would be right.
namespace chipfall {

inline constexpr int kDeepestNesting = 16;  ///< of messages in a text; the schemas need four

/// What came of reading one text.
struct Reading {
  bool complete = false;  ///< the message holds the whole text, but for fields it does not know
  Errors errors;          ///< located; empty only when complete
  /// The place of a path such as `zones[14].surface`. Not to be asked after the text has gone.
  std::function<Place(std::string_view path)> place;
};

/// Reads the text, or where it brings its message, that: the message has no lines, so its mistakes
/// name their paths only. Refused as by `read_text`. Never throws.
Reading read_message(const Text& text, google::protobuf::MessageLite& message);

/// Reads protobuf's text format into `message`. A text that is not well formed gives one mistake,
/// where reading stopped, after those for unknown fields before it. Refused: more than
/// kMostSheetBytes, nothing at all, bytes that are not UTF-8, characters that are not text. Never
/// throws. A phone's core, which is built without the runtime that this needs, refuses every text
/// (core/shop/lite).
Reading read_text(const Text& text, google::protobuf::MessageLite& message);

}  // namespace chipfall
