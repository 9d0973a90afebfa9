#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <random>
#include <set>
#include <string>
#include <vector>

#include "core/ledger/views.h"
#include "sync/device_machine.h"
#include "sync/hub_session.h"
#include "sync/memory_log.h"
#include "tests/sim/entries.h"
#include "tests/sim/weather.h"

/// A shop's phones and its hub in one process, with time, chance and every failure drawn from one
/// seed: the same seed gives the same run. Phones have real ledgers in a folder of their own.
///
/// world.cpp: phones, connections, time. trouble.cpp: what goes wrong. oracle.cpp: what must hold.
namespace chipfall::sim {

/// When a run begins: in 2026.
constexpr std::int64_t kStart_utc_ms = 1'780'000'000'000;

class World {
 public:
  World(std::uint32_t seed, const Weather& weather);
  ~World();
  World(const World&) = delete;
  World& operator=(const World&) = delete;

  /// Weather, then quiet until everyone is up to date or two virtual hours have passed.
  /// What does not hold, in words; empty: all holds.
  std::string run();

  Sometimes reached;
  MemoryLog& log() { return *log_; }
  /// A sum over every frame that was sent, by whom and when: equal for equal runs.
  std::uint64_t trace() const { return trace_; }
  std::int64_t now_ms() const { return now_ms_; }
  /// Bytes that arrived at either end, of all connections.
  std::int64_t carried_bytes() const { return carried_bytes_; }

  // Single steps, for cases that are told one by one.
  struct Phone;
  struct Link;
  Phone& phone(std::size_t index) { return *phones_.at(index); }
  std::size_t phones() const { return phones_.size(); }
  void append(Phone& phone, int entries);
  /// Somebody records just this on a phone.
  void record(Phone& phone, proto::Entry entry);
  /// Time goes by; nothing happens meanwhile.
  void pass(std::int64_t ms) { now_ms_ += ms; }
  void step();
  /// No more failures; whether all came to rest in time.
  bool heal(std::int64_t within_ms = 2 * 3'600'000);
  /// Everything that must hold at rest.
  std::string check();
  /// Applies a part of the log again, and offers everything again: nothing may change.
  std::string check_again();
  /// Views catch up.
  void look(Phone& phone);
  void crash_phone(Phone& phone);
  void crash_hub();
  void backup(Phone& phone);
  void restore(Phone& phone, bool notices);
  void clone(Phone& phone, bool notices);
  void restore_hub(std::uint64_t positions);
  void cut(Phone& phone);

  /// One connection. Bytes on their way, both directions, as a stream.
  struct Link {
    Link(HubPlace& place, std::string source, std::string binding, std::string nonce, Moment now)
        : channel_binding(binding),
          session(place, std::move(source), std::move(binding), std::move(nonce), now) {}
    std::string channel_binding;
    HubSession session;
    std::string to_hub, to_phone;
    FrameStream at_hub, at_phone;
    bool hub_closed = false, phone_closed = false;
    std::vector<std::string> recorded;
  };
  struct Phone {
    std::string path;
    std::string installation;
    proto::Role role = proto::ROLE_CLOSER;
    std::unique_ptr<LedgerStore> store;
    std::unique_ptr<DeviceState> state;
    std::unique_ptr<DeviceMachine> machine;
    std::optional<Views> views;  ///< once somebody has looked
    std::unique_ptr<Link> link;
    std::int64_t clock_off_ms = 0;
    std::int64_t slept_ms = 0;  ///< by which its steady clock stood still
    std::optional<std::int64_t> connect_at_ms = 0;
    bool online = true;
    bool copied = false;  ///< restored, or one of two copies
    std::string backup_path;
    std::uint64_t last_cursor = 0, last_acked = 0;
    std::string last_epoch, last_device;
    std::int64_t waits_ms = 0;                          ///< of the last back-off
    std::map<std::string, std::uint64_t> pushed_after;  // by name
  };

 private:
  std::uint32_t below(std::uint32_t bound) {
    return bound == 0 ? 0 : std::uint32_t(random_()) % bound;
  }
  bool happens(int per_thousand) { return int(below(1000)) < per_thousand; }
  Moment phone_now(const Phone& phone) const;
  Moment hub_now() const;
  std::string bytes(std::size_t count);

  void add_phone(proto::Role role);
  void open(Phone& phone);
  void close(Phone& phone);
  void connect(Phone& phone);
  void drop(Phone& phone);
  void apply(Phone& phone, DeviceActions actions);
  void apply(Link& link, HubActions actions);
  void deliver(Phone& phone);
  void replace_older(const Link& live);
  void commit();
  void tick();
  void trouble();
  void count_copy(const Phone& phone);
  void refuse_next(Phone& phone);
  void replay();
  void pass_time();
  bool idle() const;
  bool at_rest();
  void note_frame(const std::string& frame, char by);
  void forget_lost();
  void watch(Phone& phone);

  // The oracle's parts; what is wrong is said in `wrong`.
  struct Logged {
    std::string bytes, token, lineage;
  };
  using Log = std::map<EntryRef, Logged>;
  using Entries = std::map<EntryRef, std::string>;
  Log whole_log();
  std::string lineage_of(const std::string& name);
  std::set<std::string> tokens_of(Phone& phone);
  std::set<std::string> set_aside();
  Entries expected_of(Phone& phone, const Log& log);
  void check_tokens(const Log& log, std::string& wrong);
  void check_ledger(Phone& phone, const Entries& expected, std::string& wrong);
  std::string dump_of(const Entries& entries);

  std::mt19937 random_;
  Weather weather_;
  std::string folder_;
  std::int64_t now_ms_ = 0;
  std::unique_ptr<MemoryLog> log_;
  GuessLimit guesses_;
  HubPlace place_;
  std::vector<std::unique_ptr<Phone>> phones_;
  struct Queued {
    Link* link;
    Offer offer;
  };
  std::vector<Queued> queue_;
  std::vector<std::vector<std::string>> recordings_;
  // Tokens of entries that a phone said are saved, and the name that it had then.
  std::set<std::string> promised_;
  std::map<std::string, std::string> made_by_;
  std::set<std::pair<std::string, std::uint64_t>> refused_;
  int made_ = 0;
  int files_ = 0;
  std::string wrong_;
  std::int64_t carried_bytes_ = 0;
  std::uint64_t trace_ = 0xcbf29ce484222325;
};

}  // namespace chipfall::sim
