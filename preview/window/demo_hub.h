#pragma once

#include <map>
#include <memory>
#include <string>
#include <vector>

#include "preview/window/device.h"
#include "sync/backoff.h"
#include "sync/hub_session.h"
#include "sync/memory_log.h"

/// A hub in memory, and the wires between it and the phones on the desk: what sockets do elsewhere.
///
/// The phones sync as real ones do, by the bytes of their doors; only the way between is shorter.
/// What the hub holds goes when the program ends; each phone keeps its own ledger.
namespace chipfall::window {

class DemoHub;

/// One device's way to the hub.
class Wire {
 public:
  Wire(DemoHub& hub, Device& device, std::string name);

  /// Joins with a fresh code for this role; the rest follows as messages come.
  void join(proto::Role role);
  /// Takes the wire away, or plugs it in again.
  void set_offline(bool offline);
  bool offline() const { return offline_; }
  /// Connects where it may, and says so to the device when something was recorded.
  void look();
  /// The hub has more for it.
  void log_grew();

  const proto::SyncState& state() const { return state_; }
  /// Of the last refusal or mistake, for people; empty: none.
  const std::string& trouble() const { return trouble_; }

 private:
  void ask(proto::SyncEvent event);
  void step(const proto::SyncStep& step);
  void act(const HubActions& actions);
  void connect();
  void hang_up();

  DemoHub& hub_;
  Device& device_;
  std::string name_;
  std::unique_ptr<HubSession> session_;
  int connection_ = 0;  ///< counts, so that late answers of an earlier one are known
  bool offline_ = false;
  bool joined_ = false;
  std::uint64_t seen_changes_ = 0;
  proto::SyncState state_;
  std::string trouble_;
};

class DemoHub {
 public:
  /// `clock` is the hub's own, always right; `shop` its name.
  DemoHub(Device::Clock clock, const std::string& shop);

  Wire& plug(Device& device, const std::string& name);
  Wire* wire_of(const Device& device);
  /// True: something moved.
  void look();

 private:
  friend class Wire;
  std::string code(proto::Role role);
  Moment now();
  std::string chance(std::size_t bytes);
  void grew();

  Device::Clock clock_;
  MemoryLog log_;
  GuessLimit guesses_;
  HubPlace place_;
  std::string key_;
  std::vector<std::pair<const Device*, std::unique_ptr<Wire>>> wires_;
};

}  // namespace chipfall::window
