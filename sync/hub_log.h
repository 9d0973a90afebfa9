#pragma once

#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/ledger/sqlite.h"
#include "core/proto/sync.pb.h"

/// What a hub must keep of one shop: the log of its entries, its devices, its join codes.
///
/// Whoever implements it promises
///  - `commit` returns after everything of it is on disk, or with an error after nothing is.
///  Several
///    connections' offers go into one commit.
///  - Positions are 1, 2, 3 ... in the order of commit. An entry never changes and never leaves.
///  - By name (device, sequence) the first entry stays.
///  - Device records and codes are on disk when the function that changed them returns.
/// The epoch is 16 random bytes, made anew whenever the log was restored from a backup: then
/// `began_after` of the new epoch is the last position that the backup holds.
namespace chipfall {

/// A device that joined, by the name of its entries. A device that took a new name has a record for
/// each, of the same `lineage` (its first name).
struct HubDevice {
  std::string device;
  std::string lineage;
  std::string verifier;  ///< see sync/secret.h
  proto::Role role = proto::ROLE_UNSPECIFIED;
  std::string epoch;  ///< of the device, when it was last here
  std::string label;
  std::int64_t joined_utc_ms = 0;
  bool revoked = false;
};

/// A one-time code, by the SHA-256 of its secret. `used_by` is empty until it is used.
struct HubJoinCode {
  std::string secret_hash;
  proto::Role role = proto::ROLE_UNSPECIFIED;
  std::int64_t expires_utc_ms = 0;
  std::string used_by;
};

struct Held {
  std::uint64_t through = 0;  ///< the latest sequence
  std::string hash;           ///< SHA-256 of its bytes; empty where nothing is held
};

struct LoggedEntry {
  std::uint64_t position = 0;
  std::string_view device;
  std::uint64_t sequence = 0;
  std::string_view bytes;  ///< valid during the visit
};

/// An epoch of the log: it holds positions from `began_after` + 1 on.
struct HubEpoch {
  std::string id;
  std::uint64_t began_after = 0;
};

/// The offers of one connection for one of its device's own names are one line: what follows an
/// entry that differs from the log's is of another line than the log's, and not taken.
struct OneLine {
  bool left = false;  ///< one differed; written by `commit` alone
};

/// Entries of one name that a connection wants in the log, already checked to be entries of it.
struct Offer {
  std::uint64_t ticket = 0;  ///< the session's own, to tell the answers apart
  std::string device;
  std::vector<std::string> entries;
  std::vector<std::uint64_t> sequences;  ///< of the entries
  std::shared_ptr<OneLine> line{};       ///< null: each entry stands for itself
};

/// What became of an offer's entries, in their order.
using Verdicts = std::vector<proto::Verdict>;

class HubLog {
 public:
  virtual ~HubLog() = default;

  virtual std::string shop() const = 0;
  virtual std::string shop_name() const = 0;

  /// All epochs, oldest first; the last is the present one. Never empty.
  virtual OrError<std::vector<HubEpoch>> epochs() = 0;
  virtual OrError<std::uint64_t> last_position() = 0;
  virtual OrError<Held> held(const std::string& device) = 0;
  /// SHA-256 cut to 16 of the bytes held by this name; empty where none is held.
  virtual OrError<std::string> short_hash_of(const std::string& device, std::uint64_t sequence) = 0;
  /// Visits by position, from the one after `after` on, until the visitor says false.
  virtual OrError<void> visit(std::uint64_t after,
                              const std::function<bool(const LoggedEntry&)>& visitor) = 0;

  /// One commit for all of them. An entry that this log will never take is VERDICT_REFUSED and does
  /// not hold up the others. In a line that was left, what is not in the log is
  /// VERDICT_KNOWN_DIFFERENT.
  virtual OrError<std::vector<Verdicts>> commit(std::span<const Offer> offers,
                                                std::int64_t now_utc_ms) = 0;

  virtual OrError<std::optional<HubDevice>> device(const std::string& name) = 0;
  virtual OrError<void> put_device(const HubDevice& device) = 0;

  virtual OrError<std::optional<HubJoinCode>> join_code(const std::string& secret_hash) = 0;
  virtual OrError<void> put_join_code(const HubJoinCode& code) = 0;
  /// Marks the code used by this device and adds the device, both or neither.
  virtual OrError<void> redeem(const HubJoinCode& code, const HubDevice& device) = 0;
};

}  // namespace chipfall
