#include "sync/installation.h"

#include <fmt/format.h>
#include <openssl/rand.h>

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <stdexcept>

namespace chipfall {

namespace fs = std::filesystem;

std::string fresh_bytes(std::size_t bytes) {
  std::string made(bytes, '\0');
  if (RAND_bytes(reinterpret_cast<unsigned char*>(made.data()), static_cast<int>(bytes)) != 1) {
    // Going on would mean keys that others can guess.
    throw std::runtime_error("the system gives no random numbers");
  }
  return made;
}

double fresh_chance() {
  const std::string bytes = fresh_bytes(4);
  std::uint32_t value = 0;
  for (const char byte : bytes) value = value << 8 | static_cast<unsigned char>(byte);
  return value / 4294967296.0;
}

Moment moment_now() {
  using std::chrono::duration_cast, std::chrono::milliseconds;
  return {duration_cast<milliseconds>(std::chrono::system_clock::now().time_since_epoch()).count(),
          duration_cast<milliseconds>(std::chrono::steady_clock::now().time_since_epoch()).count()};
}

std::string hex_of(std::string_view bytes) {
  std::string text;
  for (const char byte : bytes) {
    fmt::format_to(std::back_inserter(text), "{:02x}", static_cast<unsigned char>(byte));
  }
  return text;
}

std::string installation_name_in(const std::string& folder) {
  const fs::path path = fs::path(folder) / "installation";
  const auto read = [&] {
    std::ifstream in(path, std::ios::binary);
    return std::string(std::istreambuf_iterator<char>(in), {});
  };
  std::string name = read();
  if (name.size() == kInstallationBytes) return name;
  std::error_code failure;
  fs::create_directories(folder, failure);
  const fs::path making = path.string() + "." + hex_of(fresh_bytes(4));
  {
    std::ofstream out(making, std::ios::binary);
    out << fresh_bytes(kInstallationBytes);
    if (!out.flush()) return {};
  }
  // Of two programs that start at once, both use the name that was there first.
  if (name.empty()) fs::create_hard_link(making, path, failure);
  if (failure || !name.empty()) fs::rename(making, path, failure);
  fs::remove(making, failure);
  name = read();
  return name.size() == kInstallationBytes ? name : std::string();
}

std::string installation_name() {
  const char* state = std::getenv("XDG_STATE_HOME");
  if (state != nullptr && *state != '\0')
    return installation_name_in(std::string(state) + "/chipfall");
  const char* home = std::getenv("HOME");
  if (home == nullptr || *home == '\0') return {};
  return installation_name_in(std::string(home) + "/.local/state/chipfall");
}

}  // namespace chipfall
