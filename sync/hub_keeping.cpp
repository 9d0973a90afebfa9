#include <fmt/format.h>

#include <filesystem>

#include "sync/hub_asked.h"
#include "sync/hub_copies.h"
#include "sync/hub_export.h"
#include "sync/installation.h"
#include "sync/tls.h"

/// Copies of what the hub keeps, and whether it is sound.
namespace chipfall {

int back_up(const HubAsked& asked, std::ostream& out, std::ostream& err) {
  return with_folder(asked, false, err, [&](const HubFolder& folder) {
    const auto copied = back_up_hub(folder, asked.to);
    if (!copied) return explain(copied.error(), err);
    std::error_code ignored;
    const bool authority = std::filesystem::exists(folder.issuing_key(), ignored);
    out << fmt::format(
        "{} shops and the hub's key{} are in {}. Whoever has it can pose as the hub: "
        "keep it safe.\n",
        *copied, authority ? " and that of its authority" : "", asked.to);
    return code(HubExit::kDone);
  });
}

int restore(const HubAsked& asked, std::ostream& out, std::ostream& err) {
  return with_folder(asked, true, err, [&](const HubFolder& folder) {
    const auto lock = ServingLock::take(folder);
    if (!lock) return explain(lock.error(), err);
    const auto restored = restore_hub(folder, asked.from, moment_now().utc_ms);
    if (!restored) return explain(restored.error(), err);
    out << fmt::format(
        "{} shops are restored, each in a new epoch: phones offer again what the "
        "backup lacks. Files that were here are kept beside them.\n",
        *restored);
    return code(HubExit::kDone);
  });
}

int check(const HubAsked& asked, std::ostream& out, std::ostream& err) {
  return with_folder(asked, false, err, [&](const HubFolder& folder) {
    const auto ids = folder.shop_ids();
    if (!ids) return explain(ids.error(), err);
    int worst = code(HubExit::kDone);
    for (const std::string& id : *ids) {
      HubStoreOptions options;
      options.quick_check = false;
      const auto log = folder.open_shop(id, options);
      const auto sound = log ? (*log)->check() : OrError<void>(tl::unexpected(log.error()));
      if (!sound) {
        worst = explain(sound.error(), err);
        continue;
      }
      out << fmt::format("{}  \"{}\": {} entries, all sound\n", id, (*log)->shop_name(),
                         (*log)->last_position().value_or(0));
    }
    const auto fingerprint = tls::fingerprint_of_file(folder.certificate());
    if (fingerprint) out << "key  " << hex_of(*fingerprint) << "\n";
    return worst;
  });
}

int export_all(const HubAsked& asked, std::ostream& out, std::ostream& err) {
  return with_folder(asked, false, err, [&](const HubFolder& folder) {
    const auto shops = export_hub(folder, asked.shop, asked.to, moment_now().utc_ms);
    if (!shops) return explain(shops.error(), err);
    for (const ExportedShop& shop : *shops) {
      out << fmt::format("{}/{}  \"{}\": {} entries, {} sheet revisions, {} devices\n", asked.to,
                         shop.id, shop.name, shop.entries, shop.sheets, shop.devices);
      if (shop.sheets_elsewhere == 0) continue;
      out << fmt::format("  {} more revisions are named without their text\n",
                         shop.sheets_elsewhere);
    }
    out << "No key and no code is in it; it does say who did what: keep it as you keep the "
           "hub.\n";
    return code(HubExit::kDone);
  });
}

}  // namespace chipfall
