#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sync/device_machine.h"

/// A device's connection to its hub: WebSocket over TLS 1.3, again and again.
///
/// `run` works on the caller's thread until it is stopped or people must act; a shell gives it a
/// thread and a LedgerStore of its own. Everything that matters is in the ledger's file after each
/// step, so the program may be suspended or killed at any moment.
/// The hub is known by the fingerprint of its key that the join code brought. Another key ends the
/// link (kWrongKey) and is never taken by itself.
namespace chipfall {

constexpr std::int64_t kMostConnecting_ms = 15'000;  ///< to find the hub, and for its handshakes
constexpr std::int64_t kLook_ms = 1'000;  ///< how often the ledger is looked at for new entries
constexpr std::int64_t kMostSlice_ms = 20'000;  ///< of one `once`: what phones grant [c.p.]

/// For whom a link carries messages. An error ends the link; it is one of the ledger's file.
class LinkTalk {
 public:
  struct Step {
    std::vector<std::string> send;  ///< one message each
    bool close = false;             ///< after sending
    bool up_to_date = false;
    /// While there is no connection: how long to wait before the next; absent: people must act.
    std::optional<std::int64_t> connect_in_ms;
  };
  LinkTalk() = default;
  LinkTalk(const LinkTalk&) = delete;
  LinkTalk& operator=(const LinkTalk&) = delete;
  virtual ~LinkTalk() = default;
  virtual OrError<Step> connected(const std::string& channel_binding) = 0;
  virtual OrError<Step> receive(std::string_view message) = 0;
  virtual OrError<Step> passed() = 0;  ///< every kLook_ms, and when somebody asked to look
  /// It ended, or could not be made. `why` is empty where the link itself leaves for good.
  virtual OrError<Step> disconnected(bool wrong_key, const std::string& why) = 0;
};

enum class LinkEnd {
  kStopped,
  kUpToDate,  ///< only with `once`
  kOffline,   ///< only with `once`: the hub was not reached, or the slice ran out
  kRefused,   ///< the hub said no, and waiting does not help: see SyncProgress::refusal
  kWrongKey,  ///< whoever answers there is not the hub that this device joined
};

struct LinkOptions {
  bool once = false;  ///< ends when everything is up to date, or at the first failure
  std::int64_t most_ms = kMostSlice_ms;              ///< of `once`
  std::function<Moment()> now;                       ///< empty: the system's clocks
  std::function<void(const SyncProgress&)> changed;  ///< after each step, on run's thread
  std::function<void()> ledger_grew;
};

class Link {
 public:
  /// `talk` outlives it. Of the options, `changed` and `ledger_grew` are not used.
  Link(LinkTalk& talk, HubAddress address, LinkOptions options);
  /// With a machine of one's own, which outlives it.
  Link(DeviceMachine& machine, HubAddress address, LinkOptions options);
  ~Link();

  /// An error is one of the ledger's file.
  OrError<LinkEnd> run();
  /// From any thread.
  void stop();
  /// From any thread: something was appended, or the network changed: do not wait.
  void look();

  /// Why the last connection ended, in a sentence; empty while none has.
  const std::string& last_failure() const;

 private:
  class Inside;
  std::unique_ptr<LinkTalk> own_talk_;
  std::unique_ptr<Inside> inside_;
};

}  // namespace chipfall
