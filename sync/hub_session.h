#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "sync/backoff.h"
#include "sync/frame.h"
#include "sync/hub_log.h"

/// One connection, seen from the hub: frames in, frames and offers out. No socket, no thread, no
/// clock. One thread at a time; sessions of one hub share only HubPlace.
///
/// State     event        what happens                                          next
/// hello     Hello        common version, shop found: Challenge                 proof
///           Join         code good: device and its verifier kept, Joined       hello
/// proof     Proof        holds, not revoked: Welcome                           live
/// live      Push         entries checked, given out as an Offer                live
///           Pull         pages from there on, as credit allows                 live
///           Credit       pages go on                                           live
///           Compare      an empty Offer: Compared once what came before is in  live
///           Rename       record for the new name, Renamed                      live
///           Holdings     Lacking                                               live
/// any       Ping         Pong                                                  same
///           Pong, unknown  nothing                                             same
///           Refusal      (the device says why it goes)                         closed
/// live      stored       Ack: only now, after the commit                       live
///           log_grew     pages, as credit allows                               live
///                        own entries that it does not know: Refusal            closed
/// any       anything else, a frame that cannot be read, silence: Refusal       closed
///
/// Memory: at most kPushWindow bytes of offers and kPullWindow bytes of pages, each over by one
/// frame at the most, beside a few hundred bytes and one name per device of the shop.
namespace chipfall {

/// A wall clock for what is written down, a steady one for waiting.
struct Moment {
  std::int64_t utc_ms = 0;
  std::int64_t steady_ms = 0;
};

constexpr std::uint64_t kPushWindow = 128 * 1024;   ///< bytes of Push frames not yet acknowledged
constexpr std::uint64_t kPullWindow = 256 * 1024;   ///< bytes of Page frames a device may ask for
constexpr std::int64_t kMostHandshake_ms = 20'000;  ///< from connecting to Welcome
constexpr std::int64_t kMostSilence_ms = 60'000;    ///< a live device pings every 25 s
constexpr std::int64_t kPingEvery_ms = 25'000;
/// So long a replaced device stays away: enough for its double to take a new name undisturbed.
constexpr std::int64_t kReplacedStaysAway_ms = 30'000;
constexpr int kMostPagesAtOnce = 4;                 ///< in one call
constexpr std::size_t kMostVisitedForPage = 2'000;  ///< log entries looked at for one page
constexpr std::size_t kMostCompared = 500;          ///< hashes in one Compare
constexpr int kMostHoldings = 500;                  ///< names in one Holdings

/// What the sessions of a hub share. All of it outlives them.
struct HubPlace {
  /// The shop's log; null: no such shop here.
  std::function<HubLog*(const std::string& shop)> find_shop;
  /// The log that has a join code by this hash; null: none.
  std::function<HubLog*(const std::string& secret_hash)> find_code;
  GuessLimit* guesses = nullptr;
};

/// What the driver does after each call, in this order.
struct HubActions {
  std::vector<std::string> send;  ///< one WebSocket message each
  /// For HubLog::commit of `log()`, together with those of other connections; each is answered once
  /// by `stored`, in order. The driver calls `log_grew` on all live sessions of the shop after it.
  std::vector<Offer> commit;
  /// There is more to send at once: call `log_grew` again after other connections had their turn.
  bool more = false;
  bool close = false;  ///< after sending
};

/// Whether this can be the name of a device.
bool name_fits(const std::string& name);

class HubSession {
 public:
  enum class State { kHello, kProof, kLive, kClosed };

  /// `source` is where the connection comes from, for counting wrong guesses (an address).
  /// `nonce` is kNonceBytes of fresh chance.
  HubSession(HubPlace& place, std::string source, std::string channel_binding, std::string nonce,
             Moment now);

  HubActions receive(std::string_view frame, Moment now);
  /// The commit of the offer with this ticket has ended: on disk, or failed.
  HubActions stored(std::uint64_t ticket, const OrError<Verdicts>& verdicts, Moment now);
  HubActions log_grew(Moment now);
  /// A device record of this shop has changed: a revoked device is turned away at once.
  HubActions membership_changed(Moment now);
  /// The same device has become live on another connection. The driver must say so to the older
  /// one: of two phones with one name, each sees the other's entries at its next hello only.
  HubActions replaced(Moment now);
  HubActions stop(Moment now);  ///< the hub closes
  HubActions busy(Moment now);  ///< too many connections, or the disk fails: come back later
  HubActions tick(Moment now);  ///< every few seconds: handshake and silence run out

  State state() const { return state_; }
  /// The name that the device proved; empty before it is live.
  const std::string& device() const { return device_.device; }
  HubLog* log() const { return log_; }
  /// Bytes of Push frames taken and not yet stored.
  std::uint64_t offered_bytes() const { return offered_bytes_; }
  /// How far the device was sent the log.
  std::uint64_t sent_through() const { return sent_through_; }

 private:
  using Act = void (HubSession::*)(const proto::Frame&, std::string_view, Moment, HubActions&);
  struct Row;
  static const Row kTable[];

  struct Waiting {
    std::uint64_t number = 0;  // of the Push
    std::uint64_t bytes = 0;
    std::string device;
    std::vector<std::uint64_t> sequences;
    std::optional<proto::Compare> compare;  // asked, behind what was offered before
  };

  void hello(const proto::Frame& frame, std::string_view bytes, Moment now, HubActions& out);
  void proof(const proto::Frame& frame, std::string_view bytes, Moment now, HubActions& out);
  void join(const proto::Frame& frame, std::string_view bytes, Moment now, HubActions& out);
  void push(const proto::Frame& frame, std::string_view bytes, Moment now, HubActions& out);
  void pull(const proto::Frame& frame, std::string_view bytes, Moment now, HubActions& out);
  void credit(const proto::Frame& frame, std::string_view bytes, Moment now, HubActions& out);
  void compare(const proto::Frame& frame, std::string_view bytes, Moment now, HubActions& out);
  void rename(const proto::Frame& frame, std::string_view bytes, Moment now, HubActions& out);
  void holdings(const proto::Frame& frame, std::string_view bytes, Moment now, HubActions& out);
  void ping(const proto::Frame& frame, std::string_view bytes, Moment now, HubActions& out);
  void nothing(const proto::Frame& frame, std::string_view bytes, Moment now, HubActions& out);
  void goodbye(const proto::Frame& frame, std::string_view bytes, Moment now, HubActions& out);

  void send(const proto::Frame& frame, HubActions& out);
  void refuse(proto::RefusalKind kind, const std::string& sentence, bool waiting_helps,
              HubActions& out, std::int64_t retry_after_ms = 0);
  void refuse_error(const Error& error, HubActions& out);  // the store failed: BUSY
  void answer_compare(const proto::Compare& compare, HubActions& out);
  void welcome(Moment now, HubActions& out);
  void send_pages(HubActions& out);
  bool send_page(std::uint64_t last, HubActions& out);
  std::uint64_t own_told() const;
  bool may_offer(const std::string& name);
  bool of_lineage(const std::string& name);

  HubPlace* place_;
  std::string source_;
  std::string channel_binding_;
  std::string nonce_;
  State state_ = State::kHello;
  std::int64_t since_steady_ms_ = 0;  // when the connection began
  std::int64_t heard_steady_ms_ = 0;

  HubLog* log_ = nullptr;
  proto::Hello hello_;
  std::string hello_bytes_, challenge_bytes_;
  HubDevice device_;
  bool must_rename_ = false;

  std::uint64_t next_ticket_ = 1;
  std::uint64_t last_push_ = 0;
  std::map<std::uint64_t, Waiting> waiting_;               // by ticket
  std::map<std::string, std::uint64_t> offered_through_;   // by name, of this connection
  std::map<std::string, std::shared_ptr<OneLine>> lines_;  // by own name
  std::uint64_t offered_bytes_ = 0;
  bool comparing_ = false;

  bool pulling_ = false;
  std::uint64_t sent_through_ = 0;
  std::int64_t pull_credit_ = 0;
  std::map<std::string, bool> in_lineage_;
};

}  // namespace chipfall
