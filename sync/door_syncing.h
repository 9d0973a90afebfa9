#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "core/door/syncing.h"
#include "sync/device_machine.h"

/// The device's machine behind the door: what core/door/syncing.h asks for, done by the protocol.
///
/// One machine for connection after connection. What is kept on disk is read anew at each, since
/// another process may have synced the same ledger in between.
namespace chipfall {

constexpr std::int64_t kSyncAgain_ms = 1'000;  ///< how often a shell looks while connected
constexpr int kMostAsideTold = 20;             ///< entries named in a state; a screen's worth

class DoorSyncing : public Syncing {
 public:
  static OrError<std::unique_ptr<Syncing>> open(LedgerStore& store, SyncSources sources);

  OrError<proto::Joining> join(const proto::AskJoin& asked) override;
  OrError<Stepped> step(const proto::SyncEvent& event) override;
  OrError<proto::SyncState> state() override;

 private:
  explicit DoorSyncing(SyncSources sources) : sources_(std::move(sources)) {}

  Random random() const;
  Moment moment(const proto::SyncEvent& event) const;
  OrError<void> reopen(const std::string& installation);
  OrError<proto::Joining> begin(const proto::AskJoin& asked);
  OrError<DeviceActions> act(const proto::SyncEvent& event, Moment now);
  OrError<DeviceActions> opened(const proto::SyncEvent& event, Moment now);
  DeviceActions ended(Moment now);
  void other_key();
  std::optional<HubAddress> hub() const;
  void forget_settled_code(DeviceMachine::State before);

  SyncSources sources_;
  std::optional<DeviceState> memory_;
  std::optional<DeviceMachine> machine_;  // points to memory_
  std::optional<HubAddress> joining_;     // of the code that is at hand
  bool connected_ = false;
  bool leave_ = false;      // the connection is to the hub of before
  bool wrong_key_ = false;  // the last who answered was not the hub
  std::optional<std::int64_t> connect_at_steady_ms_ = 0;
};

/// The joining code within what was scanned or typed: as it is, or in a link, where `*` may be
/// written `%2A`. The text itself where there is none, for its mistake to be told.
std::string code_within(std::string_view text);

}  // namespace chipfall
