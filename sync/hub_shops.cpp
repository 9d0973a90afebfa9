#include "sync/hub_shops.h"

#include "sync/installation.h"

namespace chipfall {

OrError<void> HubShops::open(const std::string& first_name, bool quick_check) {
  quick_check_ = quick_check;
  const auto ids = folder_.shop_ids();
  if (!ids) return tl::unexpected(ids.error());
  for (const std::string& id : *ids) {
    const auto opened = open_shop(id);
    if (!opened) return tl::unexpected(opened.error());
  }
  if (!ids->empty()) return {};
  const auto made = folder_.add_shop(first_name, {});
  if (!made) return tl::unexpected(made.error());
  const auto opened = open_shop((*made)->shop());
  if (!opened) return tl::unexpected(opened.error());
  return {};
}

OrError<SqliteHubLog*> HubShops::open_shop(const std::string& id) {
  HubStoreOptions options;
  options.quick_check = quick_check_;
  auto log = folder_.open_shop(id, options);
  if (!log) return tl::unexpected(log.error());
  const auto epochs = (*log)->epochs();
  if (!epochs) return tl::unexpected(epochs.error());
  const auto membership = (*log)->membership();
  if (!membership) return tl::unexpected(membership.error());
  journal_.info("shop_opened", {{"shop", id},
                                {"epoch", hex_of(epochs->back().id)},
                                {"entries", std::to_string((*log)->last_position().value_or(0))}});
  Shop& shop = shops_[id];
  shop = {std::move(*log), *membership};
  return shop.log.get();
}

std::vector<SqliteHubLog*> HubShops::logs() const {
  std::vector<SqliteHubLog*> all;
  for (const auto& [id, shop] : shops_) all.push_back(shop.log.get());
  return all;
}

HubLog* HubShops::find(const std::string& shop) const {
  const auto found = shops_.find(shop);
  return found == shops_.end() ? nullptr : found->second.log.get();
}

HubLog* HubShops::with_code(const std::string& hash) const {
  for (const auto& [id, shop] : shops_) {
    const auto code = shop.log->join_code(hash);
    if (code && *code) return shop.log.get();
  }
  return nullptr;
}

std::vector<HubLog*> HubShops::with_changed_devices() {
  std::vector<HubLog*> changed;
  for (auto& [id, shop] : shops_) {
    const auto membership = shop.log->membership();
    if (!membership || *membership == shop.membership) continue;
    shop.membership = *membership;
    changed.push_back(shop.log.get());
  }
  return changed;
}

std::vector<SqliteHubLog*> HubShops::look_for_new() {
  std::vector<SqliteHubLog*> made;
  const auto ids = folder_.shop_ids();
  if (!ids) return made;
  for (const std::string& id : *ids) {
    if (shops_.contains(id) || broken_.contains(id)) continue;
    const auto opened = open_shop(id);
    if (opened) {
      made.push_back(*opened);
      continue;
    }
    broken_.insert(id);
    journal_.warning("shop_not_opened", {{"shop", id}, {"why", opened.error().text()}});
  }
  return made;
}

void HubShops::measure(HubCounts& counts) const {
  std::int64_t entries = 0, file = 0, wal = 0;
  for (const auto& [id, shop] : shops_) {
    entries += static_cast<std::int64_t>(shop.log->last_position().value_or(0));
    file += shop.log->file_bytes();
    wal += shop.log->wal_bytes();
  }
  counts.shops = static_cast<std::int64_t>(shops_.size());
  counts.log_entries = entries;
  counts.file_bytes = file;
  counts.wal_bytes = wal;
}

}  // namespace chipfall
