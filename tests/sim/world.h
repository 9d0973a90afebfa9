#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <random>
#include <set>
#include <string>
#include <vector>

#include "sync/device_machine.h"
#include "sync/hub_session.h"
#include "sync/memory_log.h"

/// A shop's phones and its hub in one process, with time, chance and every failure drawn from one
/// seed: the same seed gives the same run. Phones have real ledgers in a folder of their own.
namespace chipfall::sim {

/// How often hard things happen, each out of a thousand steps while the weather lasts.
struct Weather {
  int cut = 20;           ///< a connection is cut, some bytes of it lost
  int flip = 2;           ///< a bit on its way is turned
  int phone_crash = 5;    ///< a phone's program is killed
  int hub_crash = 3;      ///< the hub loses power
  int hub_full = 2;       ///< the hub's disk is full for some commits
  int backup_phone = 3;   ///< a phone's file is copied aside
  int restore_phone = 0;  ///< a phone's file goes back to that copy
  int clone_phone = 0;    ///< a phone's file is copied to a second phone
  int restore_hub = 0;    ///< the hub goes back to an earlier position, under a new epoch
  int clock_jump = 3;     ///< a phone's clock jumps by up to two years
  int replay = 2;         ///< an old recording of a connection is played to the hub
  int steps = 800;
  int phones = 4;
  int members = 1;             ///< of these phones
  bool notices_copy = true;    ///< whether a restored phone knows that it was restored
  bool forgetful_hub = false;  ///< acknowledges before its commit is on disk: the broken rule
};

/// What a run has reached.
struct Sometimes {
  int ack_lost = 0, resent = 0, renamed = 0, hub_restored = 0, parked = 0, replay_refused = 0,
      bit_flip_seen = 0, commit_failed = 0, clock_measured = 0, relayed = 0, moved = 0;
  Sometimes& operator+=(const Sometimes& other);
};

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

  // Single steps, for cases that are told one by one.
  struct Phone;
  Phone& phone(std::size_t index) { return *phones_.at(index); }
  std::size_t phones() const { return phones_.size(); }
  void append(Phone& phone, int entries);
  void step();
  /// No more failures; whether all came to rest in time.
  bool heal(std::int64_t within_ms = 2 * 3'600'000);
  std::string check();
  void crash_phone(Phone& phone);
  void crash_hub();
  void backup(Phone& phone);
  void restore(Phone& phone, bool notices);
  void clone(Phone& phone, bool notices);
  void restore_hub(std::uint64_t positions);
  void cut(Phone& phone);

  struct Link;
  struct Phone {
    std::string path;
    std::string installation;
    proto::Role role = proto::ROLE_CLOSER;
    std::unique_ptr<LedgerStore> store;
    std::unique_ptr<DeviceState> state;
    std::unique_ptr<DeviceMachine> machine;
    std::unique_ptr<Link> link;
    std::int64_t clock_off_ms = 0;
    std::optional<std::int64_t> connect_at_ms = 0;
    bool online = true;
    std::string backup_path;
    std::uint64_t last_cursor = 0, last_acked = 0;
    std::string last_epoch, last_device, restored_as;
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
  void replay();
  void forget_lost();
  void watch(Phone& phone);
  std::set<std::string> tokens_of(Phone& phone);
  std::map<std::string, int> tokens_at_hub();

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
  std::set<std::string> promised_;  // tokens of entries that a phone said are saved
  int made_ = 0;
  int files_ = 0;
  std::string wrong_;
};

}  // namespace chipfall::sim
