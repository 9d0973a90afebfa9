#include <fmt/format.h>
#include <sys/resource.h>

#include "sync/hub_asked.h"
#include "sync/hub_reached.h"
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

/// Two databases with their logs for each of kMostShops, and the rest.
constexpr rlim_t kFilesBesideConnections = 6 * kMostShops + 50;

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

int join_code_for(const HubFolder& folder, SqliteHubLog& shop, const HubAsked& asked,
                  std::ostream& out, std::ostream& err) {
  const auto served = served_settings(folder);
  if (!served) return explain(served.error(), err);
  int exit = 0;
  const auto settings = told_settings(asked, *served, err, exit);
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
