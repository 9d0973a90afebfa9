#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <vector>

#include "core/ledger/store.h"
#include "core/proto/sync.pb.h"
#include "sync/join_code.h"

/// What a device remembers about syncing, in tables of the ledger's own file, and the few things
/// that syncing does to the ledger. Every function that changes something is one transaction and
/// returns after it is on disk, so a device may be killed between any two of them.
///
/// Names. A device is known by the name (random id) of its entries. When its file turns out to be a
/// copy or an old backup, it takes a new name for new entries. Entries that the hub has as they
/// are, or lacks, keep the old name. From the first one on for which the hub has another, those
/// that were never there move: they keep their sequences and get a name that follows from that
/// first one
/// (`moved_name`), so that any copy of this file gives them the same. What they say about each
/// other goes along. No new entry is made under a former name. Views are outdated in the same
/// transaction.
namespace chipfall {

/// So much chance, please; as many bytes as asked for.
using Random = std::function<std::string(std::size_t bytes)>;

/// The membership and how far both directions are.
struct SyncPlace {
  std::string shop;  ///< id; empty: not joined
  std::string shop_name;
  proto::Role role = proto::ROLE_UNSPECIFIED;
  std::string credential;      ///< secret; see sync/secret.h
  std::string hub_epoch;       ///< last seen; empty: never connected
  std::string offered_epoch;   ///< the hub's epoch for which everything held was offered again
  std::uint64_t cursor = 0;    ///< in the hub's log, of hub_epoch
  std::uint64_t acked = 0;     ///< own sequence, of the present name and hub_epoch
  std::uint64_t hub_last = 0;  ///< last position of the hub's log that it told
  std::int64_t ahead_ms = 0;   ///< this clock minus the hub's, as last recorded in an entry
};

/// Where the hub of the membership is.
struct HubAddress {
  std::string host;
  std::uint16_t port = 0;
  std::string fingerprint;  ///< kFingerprintBytes
};

/// A joining that was begun and not yet answered. Until it is, address and membership of before
/// stay as they are.
struct PendingJoin {
  HubAddress hub;
  std::string secret_hash;  ///< SHA-256 of the code's secret: the same code, the same credential
  std::string credential;
};

/// A step to a new name that has begun, and is gone on with after a crash.
struct PendingName {
  std::string device;
  std::string epoch;
  std::string credential;
};

/// An own entry that the hub does not take, or one of others that differed from the hub's.
struct ParkedEntry {
  std::string device;
  std::uint64_t sequence = 0;
  std::int64_t tries = 0;  ///< refusals; parked from kTriesBeforeParking on
  std::string sentence;    ///< why, for people
  std::string bytes;       ///< where they are no longer in the ledger
};

constexpr int kTriesBeforeParking = 3;

/// The name of the line of entries that left `name` at `sequence`, where `bytes` is their first:
/// SHA-256 cut to 16. Nobody joins or connects by it.
std::string moved_name(const std::string& name, std::uint64_t sequence, std::string_view bytes);

struct OwnEntry {
  std::uint64_t sequence = 0;
  std::string bytes;
};

/// A name, and the latest of its entries that is here.
struct HeldName {
  std::string device;
  std::uint64_t highest = 0;
};

struct Taken {
  std::size_t added = 0;
  std::size_t replaced = 0;  ///< by the hub's, or moved to new names: views are made anew
  bool of_former = false;    ///< some are of former names: what is settled with the hub has changed
  bool moved = false;        ///< own ones of a former name moved to make room
};

/// What has to be sent: counted, not listed.
struct Outbox {
  std::int64_t waiting = 0;  ///< own entries after `acked` that are not parked
  std::int64_t at_hub = 0;   ///< own entries, also of former names, that the hub has
  std::int64_t parked = 0;
};

class DeviceState {
 public:
  /// Over a store that outlives it. `installation` names this installation of the program and lies
  /// outside what backups copy; where it differs from what the file remembers, the file is a copy:
  /// it gets a new epoch, and the hub will give the device a new name. Empty: nobody can tell.
  static OrError<DeviceState> open(LedgerStore& store, const std::string& installation,
                                   const Random& random);

  LedgerStore& store() { return *store_; }
  const std::string& device() const { return store_->device(); }
  const SyncPlace& place() const { return place_; }
  OrError<void> put_place(const SyncPlace& place);

  /// Empty while the device has joined no hub.
  const std::optional<HubAddress>& hub() const { return hub_; }
  const std::optional<PendingJoin>& pending_join() const { return pending_join_; }
  /// Writes down what is to be joined. The same code once more keeps the credential of before.
  OrError<void> begin_join(const JoinCode& code, const Random& random);
  /// The hub has answered: its address, the credential and this membership take the place of what
  /// was before, all or nothing.
  OrError<void> finish_join(const proto::Joined& joined);

  OrError<std::uint64_t> own_highest();
  OrError<Outbox> outbox();

  /// Own entries after `after` that are not parked, in order: at most a batch (sync/batch.h).
  /// Entries of `name`, which is this device's or one that it offers for others.
  OrError<std::vector<OwnEntry>> entries_after(const std::string& name, std::uint64_t after);
  /// By name, after `after`: names other than the present one of which this device holds entries
  /// whole, and may offer.
  OrError<std::vector<HeldName>> other_names(const std::string& after, std::size_t most);
  /// Own entries that were refused, but not often enough to be parked: to be tried once more.
  OrError<std::vector<OwnEntry>> to_retry();
  /// The bytes of entries of `name` by sequence, from `first` on, at most so many; "" where one is
  /// missing.
  OrError<std::vector<std::string>> own_from(const std::string& name, std::uint64_t first,
                                             std::size_t most);

  /// A page from the hub, and the cursor after it. Where the hub's entry differs from one of
  /// another device that is here, the hub's takes its place and ours is parked.
  /// An entry that cannot be one is parked and does not hold up the others.
  OrError<Taken> take_page(std::span<const std::string> entries, std::uint64_t next,
                           std::uint64_t hub_last, std::int64_t now_ms);

  OrError<void> acknowledged(std::uint64_t through);
  /// One more refusal of this entry; whether it is parked now.
  OrError<bool> refused(const std::string& name, std::uint64_t sequence,
                        const std::string& sentence);
  /// A refused one was taken after all.
  OrError<void> no_longer_refused(std::uint64_t sequence);
  OrError<std::vector<ParkedEntry>> parked();
  /// Somebody has looked: offer it again.
  OrError<void> unpark(const std::string& name, std::uint64_t sequence);

  std::optional<PendingName> pending() const { return pending_; }
  OrError<void> begin_new_name(const PendingName& name);
  /// Takes the pending name. `moving` are sequences of the old name, ascending: these entries leave
  /// it. What the hub lacks of the others is offered under the old name, from the one after
  /// `settled` on.
  OrError<void> take_new_name(std::span<const std::uint64_t> moving, std::uint64_t settled);
  /// The same for a former name: the hub has others by these names.
  OrError<void> leave_former(const std::string& former, std::span<const std::uint64_t> moving,
                             std::uint64_t settled, std::int64_t now_ms);
  /// Names that entries moved to and of which something may still have to be offered: the hub must
  /// know them first.
  OrError<std::vector<std::string>> moved_names();
  /// Former names, and up to where each is settled with the hub.
  OrError<std::map<std::string, std::uint64_t>> former_names();
  OrError<void> settle_former(const std::string& former, std::uint64_t through);

  /// What gives moved entries their names; for trying what happens where that is another rule.
  std::function<std::string(const std::string&, std::uint64_t, std::string_view)> name_of_moved =
      moved_name;

 private:
  explicit DeviceState(LedgerStore& store) : store_(&store) {}
  OrError<void> make_tables();
  OrError<std::string> read_place();
  OrError<void> read_hub();
  OrError<void> write_place(const SyncPlace& place, const std::optional<PendingName>& pending);
  OrError<void> park(const ParkedEntry& entry);
  OrError<void> make_room(const std::string& former, std::uint64_t sequence,
                          const std::string& bytes, const std::set<std::uint64_t>& from_hub,
                          std::int64_t now_ms);
  OrError<void> move_line(const std::string& name, std::span<const std::uint64_t> moving);
  OrError<void> keep_moved_name(const std::string& name);
  OrError<Taken> store_page(std::span<const std::string> sound, std::span<const std::string> broken,
                            std::uint64_t next, std::uint64_t hub_last, std::int64_t now_ms);
  OrError<std::set<std::uint64_t>> set_aside(const std::string& name, bool retry);
  OrError<void> settle_differing(std::span<const std::string> entries,
                                 std::span<const Received> answers, std::int64_t now_ms,
                                 Taken& taken);

  LedgerStore* store_;
  SyncPlace place_;
  std::optional<PendingName> pending_;
  std::optional<HubAddress> hub_;
  std::optional<PendingJoin> pending_join_;
  std::optional<Statement> outbox_;
};

}  // namespace chipfall
