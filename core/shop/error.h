#pragma once

#include <string>
#include <vector>

#include <tl/expected.hpp>

namespace chipfall {

/// What went wrong, in a form that a program can branch on. The text is for people.
enum class ErrorCode {
  kUnreadable,   ///< a file or text that could not be read at all
  kMistake,      ///< read, but a figure, word or reference in it cannot be right
  kUnknown,      ///< a name that this shop or library does not have
  kOutOfBounds,  ///< larger than a stated limit
};

/// Where in a text a mistake stands; line and column count from 1, 0 means unknown.
struct Place {
  std::string file;
  int line = 0;
  int column = 0;
  std::string path;  ///< field path, e.g. `zones[14].surface`
};

/// One recoverable failure: what, where, and what would be right.
struct Error {
  ErrorCode code = ErrorCode::kMistake;
  std::string message;
  Place place;

  /// `file:line:column: path: message`, leaving out what is unknown.
  std::string text() const;
};

/// All mistakes of one reading, in the order of the text.
using Errors = std::vector<Error>;

template <typename T>
using Result = tl::expected<T, Errors>;

}  // namespace chipfall
