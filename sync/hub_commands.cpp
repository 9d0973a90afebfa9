#include "sync/hub_commands.h"

#include <arpa/inet.h>
#include <fmt/chrono.h>
#include <fmt/format.h>
#include <ifaddrs.h>
#include <netinet/in.h>
#include <sys/resource.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <array>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <ostream>

#include "sync/hub_copies.h"
#include "sync/hub_folder.h"
#include "sync/hub_server.h"
#include "sync/installation.h"
#include "sync/join_code.h"
#include "sync/qr_text.h"
#include "sync/secret.h"
#include "sync/tls.h"
#include "sync/version.h"

namespace chipfall {

namespace {

namespace fs = std::filesystem;

constexpr const char* kFooter = R"(
Examples:
  chipfall-hub serve --data /var/lib/chipfall-hub
  chipfall-hub join-code --data /var/lib/chipfall-hub --role member
  chipfall-hub devices --data /var/lib/chipfall-hub
  chipfall-hub revoke --data /var/lib/chipfall-hub 3f2a
  chipfall-hub backup --data /var/lib/chipfall-hub --to /media/stick/hub-backup

Exit codes: 0 done; 1 a mistake in a file, a setting or what was asked for; 2 wrong command line;
3 the disk, the port or a file failed.)";

/// Two databases with their logs for each of kMostShops, and the rest.
constexpr rlim_t kFilesBesideConnections = 6 * kMostShops + 50;

struct Asked {
  std::string data, config, shop, role = "member", name, device, to, from;
  bool check_config = false, print_config = false, no_qr = false;
  std::vector<std::pair<const HubSetting*, std::string>> flags;  // as given
};

int code(HubExit exit) { return static_cast<int>(exit); }

HubExit exit_for(const Error& error) {
  return error.code == ErrorCode::kUnreadable ? HubExit::kFailed : HubExit::kMistake;
}

int explain(const Error& error, std::ostream& err) {
  err << error.text() << "\n";
  return code(exit_for(error));
}

Result<void> read_settings_file(const std::string& file, HubSettings& settings) {
  std::ifstream in(file, std::ios::binary);
  const std::string text(std::istreambuf_iterator<char>(in), {});
  if (!in) {
    return tl::unexpected(Errors{{ErrorCode::kUnreadable,
                                  "cannot be read: check the name and that it may be read",
                                  {file, 0, 0, ""}}});
  }
  return read_hub_settings(text, file, settings);
}

/// What was asked for counts more than `usual`.
Result<HubSettings> settings_for(const Asked& asked, HubSettings usual) {
  HubSettings settings = std::move(usual);
  if (!asked.config.empty()) {
    const auto read = read_settings_file(asked.config, settings);
    if (!read) return tl::unexpected(read.error());
  }
  for (const auto& [setting, value] : asked.flags) {
    if (setting->set(settings, value)) continue;
    return tl::unexpected(Errors{
        {ErrorCode::kMistake,
         fmt::format("--{}: \"{}\" will not do; give {}", setting->name, value, setting->wants),
         {}}});
  }
  return settings;
}

/// The settings, or what is wrong with them told and no settings.
std::optional<HubSettings> told_settings(const Asked& asked, HubSettings usual, std::ostream& err,
                                         int& exit) {
  auto settings = settings_for(asked, std::move(usual));
  if (settings) return *std::move(settings);
  for (const Error& error : settings.error()) exit = explain(error, err);
  return std::nullopt;
}

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

int serve(const Asked& asked, std::ostream& out, std::ostream& err) {
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

std::optional<proto::Role> role_of(const std::string& word) {
  if (word == "member") return proto::ROLE_MEMBER;
  if (word == "closer") return proto::ROLE_CLOSER;
  if (word == "coordinator") return proto::ROLE_COORDINATOR;
  return std::nullopt;
}

std::string role_word(proto::Role role) {
  switch (role) {
    case proto::ROLE_MEMBER:
      return "member";
    case proto::ROLE_CLOSER:
      return "closer";
    case proto::ROLE_COORDINATOR:
      return "coordinator";
    default:
      return "unknown";
  }
}

int join_code(const Asked& asked, std::ostream& out, std::ostream& err) {
  const auto folder = HubFolder::open(asked.data, false);
  if (!folder) return explain(folder.error(), err);
  HubSettings served;
  std::error_code none;
  if (fs::exists(folder->served(), none)) {
    const auto read = read_settings_file(folder->served(), served);
    if (!read) return explain(read.error().front(), err);
  }
  int exit = 0;
  const auto settings = told_settings(asked, served, err, exit);
  if (!settings) return exit;
  const auto shop = folder->find_shop(asked.shop);
  if (!shop) return explain(shop.error(), err);
  const std::string certificate =
      settings->certificate.empty() ? folder->certificate() : settings->certificate;
  const auto fingerprint = tls::fingerprint_of_file(certificate);
  if (!fingerprint) return explain(fingerprint.error(), err);
  const std::uint16_t serving = ServingLock::port_in(*folder);
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
  const auto added = (*shop)->add_join_code(kept, now);
  if (!added) return explain(added.error(), err);
  const auto drawn = qr_text(*text);
  if (!asked.no_qr && drawn) out << *drawn;
  out << *text << "\n";
  err << fmt::format(
      "One phone may join \"{}\" as {} with this code, within {} minutes, at {}:{}.\n",
      (*shop)->shop_name(), asked.role, kJoinCodeLasts_ms / 60'000, made.host, made.port);
  if (serving == 0) err << "No hub is serving from this folder now: start it first.\n";
  return code(HubExit::kDone);
}

int new_shop(const Asked& asked, std::ostream& out, std::ostream& err) {
  const auto folder = HubFolder::open(asked.data, true);
  if (!folder) return explain(folder.error(), err);
  const auto shop = folder->add_shop(asked.name, {});
  if (!shop) return explain(shop.error(), err);
  out << fmt::format("{}  {}\n", (*shop)->shop(), (*shop)->shop_name());
  return code(HubExit::kDone);
}

int devices(const Asked& asked, std::ostream& out, std::ostream& err) {
  const auto folder = HubFolder::open(asked.data, false);
  if (!folder) return explain(folder.error(), err);
  const auto shop = folder->find_shop(asked.shop);
  if (!shop) return explain(shop.error(), err);
  const auto all = (*shop)->devices();
  if (!all) return explain(all.error(), err);
  for (const HubDevice& device : *all) {
    const bool former = device.lineage != device.device;
    out << fmt::format("{}  {:<11}  joined {:%Y-%m-%d}  {}{}{}\n", hex_of(device.device),
                       role_word(device.role),
                       fmt::gmtime(static_cast<std::time_t>(device.joined_utc_ms / 1000)),
                       device.revoked ? "revoked  " : "",
                       former ? fmt::format("was {}  ", hex_of(device.lineage)) : "", device.label);
  }
  err << fmt::format("{} in \"{}\"\n", all->size(), (*shop)->shop_name());
  return code(HubExit::kDone);
}

int revoke(const Asked& asked, std::ostream& out, std::ostream& err) {
  const auto folder = HubFolder::open(asked.data, false);
  if (!folder) return explain(folder.error(), err);
  const auto shop = folder->find_shop(asked.shop);
  if (!shop) return explain(shop.error(), err);
  const auto all = (*shop)->devices();
  if (!all) return explain(all.error(), err);
  std::vector<std::string> meant;
  for (const HubDevice& device : *all) {
    if (hex_of(device.device).starts_with(asked.device)) meant.push_back(device.device);
  }
  if (meant.size() != 1) {
    err << fmt::format("{} devices begin with \"{}\"; `chipfall-hub devices` lists them\n",
                       meant.size(), asked.device);
    return code(HubExit::kMistake);
  }
  const auto revoked = (*shop)->revoke(meant.front());
  if (!revoked) return explain(revoked.error(), err);
  out << fmt::format(
      "{} is revoked. A hub that serves turns it away within a second; what it "
      "recorded before stays.\n",
      hex_of(meant.front()));
  return code(HubExit::kDone);
}

int back_up(const Asked& asked, std::ostream& out, std::ostream& err) {
  const auto folder = HubFolder::open(asked.data, false);
  if (!folder) return explain(folder.error(), err);
  const auto copied = back_up_hub(*folder, asked.to);
  if (!copied) return explain(copied.error(), err);
  out << fmt::format(
      "{} shops and the hub's key are in {}. Whoever has it can pose as the hub: "
      "keep it safe.\n",
      *copied, asked.to);
  return code(HubExit::kDone);
}

int restore(const Asked& asked, std::ostream& out, std::ostream& err) {
  const auto folder = HubFolder::open(asked.data, true);
  if (!folder) return explain(folder.error(), err);
  const auto lock = ServingLock::take(*folder);
  if (!lock) return explain(lock.error(), err);
  const auto restored = restore_hub(*folder, asked.from, moment_now().utc_ms);
  if (!restored) return explain(restored.error(), err);
  out << fmt::format(
      "{} shops are restored, each in a new epoch: phones offer again what the "
      "backup lacks. Files that were here are kept beside them.\n",
      *restored);
  return code(HubExit::kDone);
}

int check(const Asked& asked, std::ostream& out, std::ostream& err) {
  const auto folder = HubFolder::open(asked.data, false);
  if (!folder) return explain(folder.error(), err);
  const auto ids = folder->shop_ids();
  if (!ids) return explain(ids.error(), err);
  int worst = code(HubExit::kDone);
  for (const std::string& id : *ids) {
    HubStoreOptions options;
    options.quick_check = false;
    const auto log = folder->open_shop(id, options);
    const auto sound = log ? (*log)->check() : OrError<void>(tl::unexpected(log.error()));
    if (!sound) {
      worst = explain(sound.error(), err);
      continue;
    }
    out << fmt::format("{}  \"{}\": {} entries, all sound\n", id, (*log)->shop_name(),
                       (*log)->last_position().value_or(0));
  }
  const auto fingerprint = tls::fingerprint_of_file(folder->certificate());
  if (fingerprint) out << "key  " << hex_of(*fingerprint) << "\n";
  return worst;
}

using Command = int (*)(const Asked&, std::ostream&, std::ostream&);

void add_data(CLI::App& command, Asked& asked) {
  command.add_option("--data", asked.data, "The hub's folder")->required();
}

void add_settings(CLI::App& command, Asked& asked) {
  command.add_option("--config", asked.config, "File of settings, NAME = VALUE in each line");
  for (const HubSetting& setting : hub_settings()) {
    command.add_option_function<std::string>(
        fmt::format("--{}", setting.name),
        [&asked, &setting](const std::string& value) { asked.flags.emplace_back(&setting, value); },
        setting.help);
  }
}

}  // namespace

int run_hub_command(int argc, const char* const* argv, std::ostream& out, std::ostream& err) {
  CLI::App app("The hub of a woodshop's phones: keeps what they record and passes it on.",
               "chipfall-hub");
  app.footer(kFooter);
  app.set_version_flag("--version", fmt::format("chipfall-hub {}", kChipfallVersion));
  app.require_subcommand(1);
  Asked asked;
  Command chosen = nullptr;
  const auto add = [&](const char* name, const char* help, Command command) {
    CLI::App* made = app.add_subcommand(name, help);
    made->callback([&chosen, command] { chosen = command; });
    return made;
  };

  CLI::App* made =
      add("serve", "Serve until SIGTERM; makes keys and a shop where there are none", serve);
  made->add_option("--data", asked.data, "Folder for the hub's shops and key; made if missing");
  add_settings(*made, asked);
  made->add_flag("--check-config", asked.check_config, "Only say whether the settings are right");
  made->add_flag("--print-config", asked.print_config, "Only print the settings that would hold");

  made = add("join-code", "Make a code with which one phone may join", join_code);
  add_data(*made, asked);
  add_settings(*made, asked);
  made->add_option("--shop", asked.shop, "Id or name of the shop, where there are several");
  made->add_option("--role", asked.role, "What the phone's holder is")
      ->check(CLI::IsMember({"member", "closer", "coordinator"}));
  made->add_flag("--no-qr", asked.no_qr, "Only the text");

  made = add("new-shop", "Add a shop; a hub that serves opens it within a second", new_shop);
  add_data(*made, asked);
  made->add_option("name", asked.name, "The shop's name")->required();

  made = add("devices", "List the devices of a shop", devices);
  add_data(*made, asked);
  made->add_option("--shop", asked.shop, "Id or name of the shop, where there are several");

  made = add("revoke", "Turn a device away from now on", revoke);
  add_data(*made, asked);
  made->add_option("--shop", asked.shop, "Id or name of the shop, where there are several");
  made->add_option("device", asked.device, "Its id, or as much of it as is clear")->required();

  made = add("backup", "Copy all shops and the key, also while serving", back_up);
  add_data(*made, asked);
  made->add_option("--to", asked.to, "Folder for the copies; made if missing")->required();

  made = add("restore", "Put a backup in place, in a new epoch; the hub must be stopped", restore);
  add_data(*made, asked);
  made->add_option("--from", asked.from, "Folder that `backup` wrote")->required();

  made = add("check", "Read everything and say whether it is sound", check);
  add_data(*made, asked);

  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& failure) {
    return app.exit(failure, out, err) == 0 ? code(HubExit::kDone) : code(HubExit::kCommandLine);
  }
  return chosen(asked, out, err);
}

}  // namespace chipfall
