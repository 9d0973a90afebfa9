#include <cstddef>
#include <cstdio>
#include <ctime>

/// What libraries would call of the C library where a phone's core never gets: the names of
/// SQLite's CURRENT_DATE, numbers that fmt writes in hexadecimal or protobuf into its log, and
/// zones that cctz reads by itself. The real ones are ten thousand bytes.
extern "C" {

/// `strftime` of SQLite alone (CMakeLists.txt).
std::size_t unasked_strftime(char* text, std::size_t size, const char*, const std::tm*) {
  if (size > 0) *text = 0;
  return 0;
}

int snprintf(char* text, std::size_t size, const char*, ...) {
  if (size > 0) *text = 0;
  return 0;
}

std::FILE* fopen(const char*, const char*) { return nullptr; }
}
