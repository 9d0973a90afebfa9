#include "sync/hub_reached.h"

#include <arpa/inet.h>
#include <fmt/format.h>
#include <ifaddrs.h>
#include <netinet/in.h>
#include <unistd.h>

#include <array>
#include <filesystem>
#include <fstream>

#include "sync/hub_asked.h"

namespace chipfall {

namespace fs = std::filesystem;

bool remember_served(const HubFolder& folder, const HubSettings& settings, std::uint16_t port) {
  std::string text = fmt::format("port = {}\n", port);
  if (!settings.address.empty()) text += fmt::format("address = {}\n", settings.address);
  if (!settings.certificate.empty()) {
    std::error_code failure;
    const fs::path whole = fs::absolute(settings.certificate, failure);
    text += fmt::format("certificate = {}\n", failure ? settings.certificate : whole.string());
  }
  const std::string fresh = folder.served() + ".new";
  std::error_code failure;
  if ((std::ofstream(fresh, std::ios::binary) << text).flush()) {
    fs::rename(fresh, folder.served(), failure);
    if (!failure) return true;
  }
  fs::remove(fresh, failure);
  return false;
}

OrError<HubSettings> served_settings(const HubFolder& folder) {
  HubSettings served;
  std::error_code none;
  if (!fs::exists(folder.served(), none)) return served;
  const auto read = read_settings_file(folder.served(), served);
  if (!read) return tl::unexpected(read.error().front());
  return served;
}

std::string own_address() {
  ifaddrs* all = nullptr;
  std::string found;
  if (::getifaddrs(&all) == 0) {
    for (const ifaddrs* one = all; one != nullptr && found.empty(); one = one->ifa_next) {
      if (one->ifa_addr == nullptr || one->ifa_addr->sa_family != AF_INET) continue;
      const in_addr address = reinterpret_cast<const sockaddr_in*>(one->ifa_addr)->sin_addr;
      if ((ntohl(address.s_addr) >> 24) == 127) continue;
      std::array<char, INET_ADDRSTRLEN> text{};
      if (::inet_ntop(AF_INET, &address, text.data(), text.size()) != nullptr) found = text.data();
    }
    ::freeifaddrs(all);
  }
  if (!found.empty()) return found;
  std::array<char, 256> name{};
  return ::gethostname(name.data(), name.size() - 1) == 0 ? name.data() : "localhost";
}

}  // namespace chipfall
