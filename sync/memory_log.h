#pragma once

#include <deque>
#include <map>
#include <utility>

#include "sync/hub_log.h"

/// A hub's log in memory, for tests and trials: it can fail, crash and be restored on demand.
namespace chipfall {

class MemoryLog : public HubLog {
 public:
  MemoryLog(std::string shop, std::string epoch);

  std::string shop() const override { return shop_; }
  std::string shop_name() const override { return shop_; }
  OrError<std::vector<HubEpoch>> epochs() override { return epochs_; }
  OrError<std::uint64_t> last_position() override { return entries_.size(); }
  OrError<Held> held(const std::string& device) override;
  OrError<std::string> short_hash_of(const std::string& device, std::uint64_t sequence) override;
  OrError<void> visit(std::uint64_t after,
                      const std::function<bool(const LoggedEntry&)>& visitor) override;
  OrError<std::vector<Verdicts>> commit(std::span<const Offer> offers,
                                        std::int64_t now_utc_ms) override;
  OrError<std::optional<HubDevice>> device(const std::string& name) override;
  OrError<void> put_device(const HubDevice& device) override;
  OrError<std::optional<HubJoinCode>> join_code(const std::string& secret_hash) override;
  OrError<void> put_join_code(const HubJoinCode& code) override;
  OrError<void> redeem(const HubJoinCode& code, const HubDevice& device) override;

  /// Entries for which it says true are VERDICT_REFUSED.
  std::function<bool(const std::string& device, std::uint64_t sequence)> refuses;
  /// The next commits fail, as on a full disk.
  int failing_commits = 0;
  /// Commits return before they are durable: what no hub may do.
  bool forgetful = false;
  /// Lines are not kept apart: what no hub may do.
  bool mixes_lines = false;
  /// Makes durable what a forgetful log has not yet.
  void sync() { durable_ = entries_.size(); }
  /// The power goes: what is not durable is gone.
  void crash() { cut_to(durable_); }
  /// Goes back to a backup that holds the first `positions` entries, under a new epoch.
  void restore(std::uint64_t positions, const std::string& epoch);

 private:
  struct Entry {
    std::string device;
    std::uint64_t sequence = 0;
    std::string bytes;
  };
  void cut_to(std::uint64_t positions);

  std::string shop_;
  std::vector<HubEpoch> epochs_;
  std::deque<Entry> entries_;
  std::map<std::string, std::map<std::uint64_t, std::size_t>> places_;
  std::uint64_t durable_ = 0;
  std::map<std::string, HubDevice> devices_;
  std::map<std::string, HubJoinCode> codes_;
};

}  // namespace chipfall
