#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sync/device_state.h"
#include "sync/frame.h"
#include "sync/hub_session.h"
#include "sync/join_code.h"

/// A device's side of one connection after another: frames in, frames out. No socket, no thread, no
/// clock, and no more work in one call than one transaction of one batch, so that a phone may
/// suspend or kill it at any moment.
///
/// State     event        what happens                                           next
/// offline   connected    Join while a code is at hand, else Hello               joining, greeting
/// joining   Joined       membership kept; Hello                                 greeting
/// greeting  Challenge    Proof                                                  proving
/// proving   Welcome      own history looked at: forked? hub's epoch changed?
///                        nothing of it: Pull, Push                              syncing
///                        hub's epoch is new: Holdings as well                   syncing
///                        forked: Compare                                        comparing
/// comparing Compared     more to compare: Compare                               comparing
///                        all compared: a new name is written down, Rename       renaming
///                        a former name's: entries move                          as Renamed
/// renaming  Renamed      the new name taken; Pull from the beginning, Push      syncing
///                        names of moved entries to tell: Rename to each, back   renaming
/// syncing   Page         stored with the cursor, Credit                         syncing
///           Ack          kept; refused ones counted; more Push                  syncing
///                        an own one differs from the hub's: Compare             comparing
///           Lacking      Push of these, then more Holdings                      syncing
///           (appended)   Push                                                   syncing
/// any       Ping, Pong   Pong; clock compared, ClockMeasured where it is off    same
///           Refusal      kept for people                                        refused
///           cut          back-off                                               offline
///           anything else, a frame that cannot be read: Refusal                 refused
namespace chipfall {

constexpr std::int64_t kClockWorthRecording_ms = 60'000;
constexpr std::int64_t kMostUnanswered_ms = 30'000;  ///< then the connection is taken for dead
constexpr int kMostPushesUnderWay = 4;

/// For people: where the device's own entries are.
struct SyncProgress {
  enum class Link { kNotJoined, kOffline, kConnecting, kSyncing, kUpToDate, kRefused };
  Link link = Link::kNotJoined;
  std::int64_t saved_here = 0;  ///< own entries that are not at the hub yet, those on their way too
  std::int64_t on_its_way = 0;  ///< of these, sent and not yet acknowledged
  std::int64_t at_hub = 0;      ///< own entries on the hub's disk
  std::int64_t parked = 0;      ///< own entries that the hub refuses; people must look
  std::uint64_t pulled = 0;     ///< cursor
  std::uint64_t to_pull = 0;    ///< last position of the hub's log that it told
  std::optional<proto::Refusal> refusal;  ///< of the last connection
};

struct DeviceActions {
  std::vector<std::string> send;  ///< one WebSocket message each
  bool close = false;             ///< after sending
  bool ledger_grew = false;       ///< entries arrived or took new names: views may catch up
  bool rebuild_views = false;     ///< entries took new names: catching up will take longer
  /// Not before this steady time; 0: do not come back by yourself (people must act first).
  std::optional<std::int64_t> connect_at_steady_ms;
};

class DeviceMachine {
 public:
  enum class State {
    kOffline,
    kJoining,
    kGreeting,
    kProving,
    kComparing,
    kRenaming,
    kSyncing,
    kRefused
  };

  /// `state` outlives it; `random` is asked for nonces, names and waits.
  DeviceMachine(DeviceState& state, Random random);

  /// To be used at the next connection, which must be to the code's hub with its key pinned. What
  /// was joined before stays in force until the hub has answered.
  OrError<void> join_with(const JoinCode& code, const std::string& label);
  /// No code is used any more: whoever answers at its address is not to have it.
  void put_code_away() { code_.reset(); }

  DeviceActions connected(const std::string& channel_binding, Moment now);
  DeviceActions receive(std::string_view frame, Moment now);
  /// Something was appended to the ledger, or another process may have: look and push.
  DeviceActions look(Moment now);
  DeviceActions tick(Moment now);  ///< every few seconds: pings, silence
  /// The connection ended, or could not be made. Says when to try again.
  DeviceActions disconnected(Moment now);
  /// The network changed: the next try may be at once.
  void network_changed() { failures_ = 0; }

  OrError<SyncProgress> progress();
  State state() const { return state_; }
  /// Everything own is acknowledged or parked, and the log was pulled to its end.
  bool up_to_date() const;
  /// The ledger's file fails: what it said. The machine has closed the connection.
  const std::optional<Error>& failure() const { return failure_; }

 private:
  using Act = OrError<void> (DeviceMachine::*)(const proto::Frame&, std::size_t, Moment,
                                               DeviceActions&);
  struct Row;
  static const Row kTable[];

  struct UnderWay {
    std::string name;
    std::uint64_t through = 0;
    std::uint64_t bytes = 0;
    std::int64_t entries = 0;
    std::vector<std::uint64_t> retried;         // of these, refused before
    std::map<std::uint64_t, std::string> sent;  // of other names: short hashes by sequence
  };

  // What leaves the name that was compared, and up to where the rest of it is settled.
  struct Leaving {
    std::vector<std::uint64_t> moving;
    std::uint64_t settled = 0;
  };

  OrError<void> joined(const proto::Frame& f, std::size_t bytes, Moment now, DeviceActions& out);
  OrError<void> challenge(const proto::Frame& f, std::size_t bytes, Moment now, DeviceActions& out);
  OrError<void> welcome(const proto::Frame& f, std::size_t bytes, Moment now, DeviceActions& out);
  OrError<void> compared(const proto::Frame& f, std::size_t bytes, Moment now, DeviceActions& out);
  OrError<void> renamed(const proto::Frame& f, std::size_t bytes, Moment now, DeviceActions& out);
  OrError<void> page(const proto::Frame& f, std::size_t bytes, Moment now, DeviceActions& out);
  OrError<void> ack(const proto::Frame& f, std::size_t bytes, Moment now, DeviceActions& out);
  OrError<void> lacking(const proto::Frame& f, std::size_t bytes, Moment now, DeviceActions& out);
  OrError<void> ping(const proto::Frame& f, std::size_t bytes, Moment now, DeviceActions& out);
  OrError<void> pong(const proto::Frame& f, std::size_t bytes, Moment now, DeviceActions& out);
  OrError<void> refusal(const proto::Frame& f, std::size_t bytes, Moment now, DeviceActions& out);
  OrError<void> nothing(const proto::Frame& f, std::size_t bytes, Moment now, DeviceActions& out);

  void send(const proto::Frame& frame, DeviceActions& out);
  OrError<void> say_hello(DeviceActions& out);
  OrError<void> late_ack(const proto::Frame& f, std::size_t bytes, Moment now, DeviceActions& out);
  OrError<void> begin_compare(const std::string& name, Moment now, DeviceActions& out);
  OrError<void> send_compare(Moment now, DeviceActions& out);
  OrError<Leaving> leaving();
  OrError<void> ask_name(DeviceActions& out);
  OrError<void> name_next(DeviceActions& out);
  OrError<void> go_on(std::uint64_t cursor, Moment now, DeviceActions& out);
  OrError<void> begin_syncing(std::uint64_t cursor, Moment now, DeviceActions& out);
  OrError<void> push_more(DeviceActions& out);
  OrError<bool> push_next(const std::string& name, std::uint64_t& sent_through, DeviceActions& out);
  OrError<void> push(const std::string& name, std::uint64_t after,
                     const std::vector<OwnEntry>& entries, DeviceActions& out);
  OrError<void> offer_more(DeviceActions& out);
  OrError<bool> still_here(const UnderWay& sent, std::span<const std::uint64_t> differing);
  OrError<void> settle_other(const UnderWay& sent);
  OrError<void> end_offering();
  OrError<bool> forked(const proto::Welcome& welcome);
  OrError<void> record_clock(std::int64_t ahead_ms, std::int64_t give_or_take_ms, Moment now,
                             DeviceActions& out);
  bool may_push() const;
  void give_up(proto::RefusalKind kind, const std::string& sentence, DeviceActions& out);
  DeviceActions finish(OrError<void> result, DeviceActions out);

  DeviceState* memory_;
  Random random_;
  State state_ = State::kOffline;
  int failures_ = 0;
  std::optional<Error> failure_;
  std::optional<proto::Refusal> refusal_;

  std::optional<JoinCode> code_;
  std::string label_;

  std::string channel_binding_, hello_bytes_;
  std::string_view received_body_;  // of the frame in `receive`, without its sum
  std::string compare_name_;        // the present name, or a former one
  std::uint64_t compare_next_ = 1;  // what was compared lies before it
  std::vector<std::uint64_t> differing_, lacking_;
  std::optional<std::vector<std::string>> naming_;  // names of moved entries to tell the hub
  bool names_wanted_ = false;                       // entries moved: tell it once nothing is sent

  std::uint64_t push_number_ = 0;
  std::int64_t push_credit_ = 0;
  std::uint64_t sent_through_ = 0;  // of the own name
  std::map<std::uint64_t, UnderWay> under_way_;
  std::vector<OwnEntry> retry_;
  std::map<std::string, std::uint64_t> relays_;  // names to offer, and what was sent of each
  bool offering_ = false;
  std::string offered_up_to_;
  bool awaits_lacking_ = false;

  std::int64_t ping_at_steady_ms_ = 0;
  std::int64_t waits_since_steady_ms_ = 0;  // for an answer; 0: for none
};

}  // namespace chipfall
