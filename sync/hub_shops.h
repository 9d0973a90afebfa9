#pragma once

#include <map>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "sync/hub_counts.h"
#include "sync/hub_folder.h"
#include "sync/hub_journal.h"

/// The shops that a hub serves, by id. On the network's thread only.
namespace chipfall {

class HubShops {
 public:
  /// The arguments outlive it.
  HubShops(const HubFolder& folder, HubJournal& journal) : folder_(folder), journal_(journal) {}

  /// Opens all of the folder; makes one of this name where there is none.
  OrError<void> open(const std::string& first_name, bool quick_check);

  std::size_t count() const { return shops_.size(); }
  std::vector<SqliteHubLog*> logs() const;
  HubLog* find(const std::string& shop) const;
  /// The log that has a join code by this hash; null: none.
  HubLog* with_code(const std::string& hash) const;

  /// Shops whose devices another process has changed since the last look.
  std::vector<HubLog*> with_changed_devices();
  /// Shops that another process has made since; one that cannot be opened is told once.
  std::vector<SqliteHubLog*> look_for_new();
  void measure(HubCounts& counts) const;

 private:
  struct Shop {
    std::unique_ptr<SqliteHubLog> log;
    std::int64_t membership = 0;
  };
  OrError<SqliteHubLog*> open_shop(const std::string& id);

  const HubFolder& folder_;
  HubJournal& journal_;
  bool quick_check_ = true;
  std::map<std::string, Shop> shops_;
  std::set<std::string> broken_;
};

}  // namespace chipfall
