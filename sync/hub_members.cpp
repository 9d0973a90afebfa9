#include <fmt/chrono.h>
#include <fmt/format.h>

#include <ctime>

#include "sync/hub_asked.h"
#include "sync/installation.h"
#include "sync/role_words.h"

/// Shops and who has joined them.
namespace chipfall {

namespace {

std::string device_line(const HubDevice& device) {
  const bool former = device.lineage != device.device;
  return fmt::format("{}  {:<11}  joined {:%Y-%m-%d}  {}{}{}\n", hex_of(device.device),
                     role_word(device.role),
                     fmt::gmtime(static_cast<std::time_t>(device.joined_utc_ms / 1000)),
                     device.revoked ? "revoked  " : "",
                     former ? fmt::format("was {}  ", hex_of(device.lineage)) : "", device.label);
}

}  // namespace

int new_shop(const HubAsked& asked, std::ostream& out, std::ostream& err) {
  return with_folder(asked, true, err, [&](const HubFolder& folder) {
    const auto shop = folder.add_shop(asked.name, {});
    if (!shop) return explain(shop.error(), err);
    out << fmt::format("{}  {}\n", (*shop)->shop(), (*shop)->shop_name());
    return code(HubExit::kDone);
  });
}

int devices(const HubAsked& asked, std::ostream& out, std::ostream& err) {
  return with_shop(asked, err, [&](const HubFolder&, SqliteHubLog& shop) {
    const auto all = shop.devices();
    if (!all) return explain(all.error(), err);
    for (const HubDevice& device : *all) out << device_line(device);
    err << fmt::format("{} in \"{}\"\n", all->size(), shop.shop_name());
    return code(HubExit::kDone);
  });
}

int revoke(const HubAsked& asked, std::ostream& out, std::ostream& err) {
  return with_shop(asked, err, [&](const HubFolder&, SqliteHubLog& shop) {
    const auto all = shop.devices();
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
    const auto revoked = shop.revoke(meant.front());
    if (!revoked) return explain(revoked.error(), err);
    out << fmt::format(
        "{} is revoked. A hub that serves turns it away within a second; what it "
        "recorded before stays.\n",
        hex_of(meant.front()));
    return code(HubExit::kDone);
  });
}

}  // namespace chipfall
