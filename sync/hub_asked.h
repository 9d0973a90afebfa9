#pragma once

#include <functional>
#include <optional>
#include <ostream>
#include <string>
#include <utility>
#include <vector>

#include "sync/hub_commands.h"
#include "sync/hub_folder.h"
#include "sync/hub_settings.h"

/// What every command of chipfall-hub works with.
namespace chipfall {

/// What the command line says.
struct HubAsked {
  std::string data, config, shop, role = "member", name, device, to, from;
  bool check_config = false, print_config = false, no_qr = false, anew = false;
  std::vector<std::string> names;
  std::vector<std::pair<const HubSetting*, std::string>> flags;  ///< as given
};

using HubCommand = int (*)(const HubAsked&, std::ostream& out, std::ostream& err);

int code(HubExit exit);
/// Says what is wrong; the exit code for it.
int explain(const Error& error, std::ostream& err);

/// Runs on the folder that was asked for; where it cannot be opened, says why.
int with_folder(const HubAsked& asked, bool may_create, std::ostream& err,
                const std::function<int(const HubFolder&)>& work);
/// Runs on the shop that was asked for.
int with_shop(const HubAsked& asked, std::ostream& err,
              const std::function<int(const HubFolder&, SqliteHubLog&)>& work);

Result<void> read_settings_file(const std::string& file, HubSettings& settings);
/// The settings: what was asked for counts more than `usual`. Or what is wrong with them told, its
/// exit code in `exit`, and no settings.
std::optional<HubSettings> told_settings(const HubAsked& asked, HubSettings usual,
                                         std::ostream& err, int& exit);

// hub_serving.cpp
int serve(const HubAsked& asked, std::ostream& out, std::ostream& err);
int join_code(const HubAsked& asked, std::ostream& out, std::ostream& err);
// hub_trust.cpp
int authority(const HubAsked& asked, std::ostream& out, std::ostream& err);
// hub_members.cpp
int new_shop(const HubAsked& asked, std::ostream& out, std::ostream& err);
int devices(const HubAsked& asked, std::ostream& out, std::ostream& err);
int revoke(const HubAsked& asked, std::ostream& out, std::ostream& err);
// hub_keeping.cpp
int back_up(const HubAsked& asked, std::ostream& out, std::ostream& err);
int restore(const HubAsked& asked, std::ostream& out, std::ostream& err);
int check(const HubAsked& asked, std::ostream& out, std::ostream& err);
int export_all(const HubAsked& asked, std::ostream& out, std::ostream& err);

}  // namespace chipfall
