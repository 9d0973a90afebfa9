#include "sync/hub_commands.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <optional>

#include "sync/command_pages.h"
#include "sync/hub_asked.h"
#include "sync/version.h"

namespace chipfall {

namespace {

constexpr const char* kFooter = R"(
Examples:
  chipfall-hub serve --data /var/lib/chipfall-hub
  chipfall-hub join-code --data /var/lib/chipfall-hub --role member
  chipfall-hub authority --data /var/lib/chipfall-hub --name hub.shop.example
  chipfall-hub devices --data /var/lib/chipfall-hub
  chipfall-hub revoke --data /var/lib/chipfall-hub 3f2a
  chipfall-hub backup --data /var/lib/chipfall-hub --to /media/stick/hub-backup

Exit codes: 0 done; 1 a mistake in a file, a setting or what was asked for; 2 wrong command line;
3 the disk, the port or a file failed.)";

void add_data(CLI::App& command, HubAsked& asked) {
  command.add_option("--data", asked.data, "The hub's folder")->required();
}

void add_settings(CLI::App& command, HubAsked& asked) {
  command.add_option("--config", asked.config, "File of settings, NAME = VALUE in each line");
  for (const HubSetting& setting : hub_settings()) {
    command.add_option_function<std::string>(
        fmt::format("--{}", setting.name),
        [&asked, &setting](const std::string& value) { asked.flags.emplace_back(&setting, value); },
        setting.help);
  }
}

/// The table of all commands and their options.
void add_commands(CLI::App& app, HubAsked& asked, HubCommand& chosen) {
  const auto add = [&](const char* name, const char* help, HubCommand command) {
    CLI::App* one = app.add_subcommand(name, help);
    one->callback([&chosen, command] { chosen = command; });
    return one;
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

  made = add("authority",
             "Make the shop's own authority, which phones install once to trust the hub's page",
             authority);
  add_data(*made, asked);
  made->add_option("--name", asked.names,
                   "Name or address that it may vouch for, several times where there are several; "
                   "else the hub's address");
  made->add_flag("--anew", asked.anew,
                 "In place of the one before; every phone has to install the new one");
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

  made = add("backup", "Copy all shops and the keys, also while serving", back_up);
  add_data(*made, asked);
  made->add_option("--to", asked.to, "Folder for the copies; made if missing")->required();

  made = add("restore", "Put a backup in place, in a new epoch; the hub must be stopped", restore);
  add_data(*made, asked);
  made->add_option("--from", asked.from, "Folder that `backup` wrote")->required();

  made = add("export", "Write all that the shops own to files any program reads, without secrets",
             export_all);
  add_data(*made, asked);
  made->add_option("--shop", asked.shop, "Id or name of one shop; else all of them");
  made->add_option("--to", asked.to, "Folder for the files; new or empty")->required();

  made = add("check", "Read everything and say whether it is sound", check);
  add_data(*made, asked);
}

}  // namespace

int run_hub_command(int argc, const char* const* argv, std::ostream& out, std::ostream& err) {
  CLI::App app("The hub of a woodshop's phones: keeps what they record and passes it on.",
               "chipfall-hub");
  app.footer(kFooter);
  app.set_version_flag("--version", fmt::format("chipfall-hub {}", kChipfallVersion));
  app.require_subcommand(1);
  HubAsked asked;
  HubCommand chosen = nullptr;
  add_commands(app, asked, chosen);
  std::optional<std::string> page;
  add_page_commands(app, kChipfallVersion, [&page](std::string made) { page = std::move(made); });

  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& failure) {
    return app.exit(failure, out, err) == 0 ? code(HubExit::kDone) : code(HubExit::kCommandLine);
  }
  if (page) {
    out << *page;
    return code(HubExit::kDone);
  }
  return chosen(asked, out, err);
}

}  // namespace chipfall
