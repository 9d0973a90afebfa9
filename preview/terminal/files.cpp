#include "preview/terminal/files.h"

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>

#include <fmt/format.h>

namespace chipfall {
namespace {

tl::unexpected<Errors> unreadable(const std::string& path, const std::string& why) {
  Error error{ErrorCode::kUnreadable, why + ". Check the path and who may read it.", {}};
  error.place.file = path;
  return tl::unexpected(Errors{error});
}

/// One byte more than the limit is enough to know that it is passed.
std::string read_bounded(std::istream& in) {
  std::string content;
  char block[1 << 16];
  while (content.size() <= kMostSheetBytes && (in.read(block, sizeof block) || in.gcount() > 0)) {
    content.append(block, static_cast<size_t>(in.gcount()));
  }
  return content;
}

}  // namespace

Result<Text> read_file(const std::string& path) {
  if (path == "-") return Text{"standard input", read_bounded(std::cin)};
  std::error_code ignored;
  if (std::filesystem::is_directory(path, ignored)) return unreadable(path, "is a folder");
  errno = 0;
  std::ifstream in(path, std::ios::binary);
  if (!in) return unreadable(path, fmt::format("cannot be read: {}", std::strerror(errno)));
  Text text{path, read_bounded(in)};
  if (in.bad()) return unreadable(path, "reading broke off");
  return text;
}

}  // namespace chipfall
