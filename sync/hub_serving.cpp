#include <arpa/inet.h>
#include <fmt/format.h>
#include <ifaddrs.h>
#include <netinet/in.h>
#include <sys/resource.h>
#include <unistd.h>

#include <array>
#include <filesystem>
#include <fstream>

#include "sync/hub_asked.h"
#include "sync/hub_server.h"
#include "sync/installation.h"
#include "sync/join_code.h"
#include "sync/qr_text.h"
#include "sync/role_words.h"
#include "sync/secret.h"
#include "sync/tls.h"

/// `serve`, and `join-code`, which tells phones how to reach what serves.
namespace chipfall {

namespace {

namespace fs = std::filesystem;

/// Two databases with their logs for each of kMostShops, and the rest.
constexpr rlim_t kFilesBesideConnections = 6 * kMostShops + 50;

/// For join codes: how the hub is reached and which key it shows, as this `serve` was told.
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

/// Each phone needs a file; many systems allow a program 1,024 unless it asks for more.
void allow_open_files(int connections, HubJournal& journal) {
  const auto wanted = static_cast<rlim_t>(connections) + kFilesBesideConnections;
  rlimit most{};
  if (::getrlimit(RLIMIT_NOFILE, &most) != 0 || most.rlim_cur >= wanted) return;
  most.rlim_cur = std::min(wanted, most.rlim_max);
  if (::setrlimit(RLIMIT_NOFILE, &most) != 0 || most.rlim_cur < wanted) {
    journal.warning("few_files", {{"allowed", std::to_string(most.rlim_cur)},
                                  {"wanted", std::to_string(wanted)}});
  }
}

/// An address of this computer by which others may reach it; its name where there is none.
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

int join_code_for(const HubFolder& folder, SqliteHubLog& shop, const HubAsked& asked,
                  std::ostream& out, std::ostream& err) {
  HubSettings served;
  std::error_code none;
  if (fs::exists(folder.served(), none)) {
    const auto read = read_settings_file(folder.served(), served);
    if (!read) return explain(read.error().front(), err);
  }
  int exit = 0;
  const auto settings = told_settings(asked, served, err, exit);
  if (!settings) return exit;
  const std::string certificate =
      settings->certificate.empty() ? folder.certificate() : settings->certificate;
  const auto fingerprint = tls::fingerprint_of_file(certificate);
  if (!fingerprint) return explain(fingerprint.error(), err);
  const std::uint16_t serving = ServingLock::port_in(folder);
  JoinCode made;
  made.host = settings->address.empty() ? own_address() : settings->address;
  made.port = serving != 0 ? serving : settings->port;
  made.fingerprint = *fingerprint;
  made.secret = fresh_bytes(kJoinSecretBytes);
  const auto text = join_code_text(made);
  if (!text) return explain(text.error(), err);
  const std::int64_t now = moment_now().utc_ms;
  HubJoinCode kept;
  kept.secret_hash = sha256(made.secret);
  kept.role = *role_of(asked.role);
  kept.expires_utc_ms = now + kJoinCodeLasts_ms;
  const auto added = shop.add_join_code(kept, now);
  if (!added) return explain(added.error(), err);
  const auto drawn = qr_text(*text);
  if (!asked.no_qr && drawn) out << *drawn;
  out << *text << "\n";
  err << fmt::format(
      "One phone may join \"{}\" as {} with this code, within {} minutes, at {}:{}.\n",
      shop.shop_name(), asked.role, kJoinCodeLasts_ms / 60'000, made.host, made.port);
  if (serving == 0) err << "No hub is serving from this folder now: start it first.\n";
  return code(HubExit::kDone);
}

}  // namespace

int serve(const HubAsked& asked, std::ostream& out, std::ostream& err) {
  int exit = 0;
  const auto settings = told_settings(asked, {}, err, exit);
  if (!settings) return exit;
  if (asked.print_config) out << hub_settings_text(*settings);
  if (asked.check_config && !asked.print_config) out << "The settings are right.\n";
  if (asked.check_config || asked.print_config) return code(HubExit::kDone);
  if (asked.data.empty()) {
    err << "--data is required: the folder that keeps the hub's shops and key\n";
    return code(HubExit::kCommandLine);
  }
  const auto folder = HubFolder::open(asked.data, true);
  if (!folder) return explain(folder.error(), err);
  const auto lock = ServingLock::take(*folder);
  if (!lock) return explain(lock.error(), err);
  HubJournal journal([&out](const std::string& line) { out << line << std::flush; },
                     [] { return moment_now().utc_ms; });
  allow_open_files(settings->connections, journal);
  HubServerOptions options;
  options.settings = *settings;
  options.stop_on_signals = true;
  const auto server = HubServer::open(*folder, options, journal);
  if (!server) return explain(server.error(), err);
  const auto told = lock->tell_port((*server)->port());
  if (!told) return explain(told.error(), err);
  // A full disk must not keep a hub from serving.
  if (!remember_served(*folder, *settings, (*server)->port())) {
    err << folder->served() << ": cannot be written, so give --address to join-code as well\n";
  }
  (*server)->run();
  return code(HubExit::kDone);
}

int join_code(const HubAsked& asked, std::ostream& out, std::ostream& err) {
  return with_shop(asked, err, [&](const HubFolder& folder, SqliteHubLog& shop) {
    return join_code_for(folder, shop, asked, out, err);
  });
}

}  // namespace chipfall
