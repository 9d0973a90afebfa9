#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "core/ledger/store.h"

/// What the ledger says: views folded from its entries, kept beside them in the same file.
///
/// Guarantees
///  - A view depends on the set of entries alone: any order of arrival, duplicates and replays give
///    the same views, byte for byte (`dump`). Nothing local (arrival, received time, doubt marks,
///    this device) enters them.
///  - Kept incrementally: `catch_up` folds only what arrived since. They can be thrown away and
///    rebuilt at any time; a program that folds differently from the one that wrote them does so.
///  - No appending waits for them.
/// Verdicts, each the same in whatever order its entries arrive
///  - A duty's latest ending by (clock, device, sequence) stands; "reopened" makes it open again.
///  - A machine is out from its latest machine-out entry on, until a machine-back entry names that
///    very one as what the person saw. A machine-back that names an older one changes nothing and
///    is told as a notice.
///  - Everything else keeps all its facts.
///
/// Times are corrected: by the device's own clock measurements (ClockMeasured), then, where that
/// still cannot be (before kEarliestEvent_ms, or over kMostFuture_ms after the entry's own clock),
/// by the entry's clock. `doubtful` says that it was.
namespace chipfall {

/// The name of an entry: (device, sequence).
struct EntryRef {
  std::string device;
  std::uint64_t sequence = 0;

  auto operator<=>(const EntryRef&) const = default;
};

/// What every fact has.
struct Told {
  EntryRef entry;
  std::int64_t at_ms = 0;  ///< when it happened, corrected, UTC
  bool doubtful = false;   ///< the claimed time could not be
  std::string member;
};

struct SessionFact {
  Told told;
  proto::SessionEnded ended;
};

enum class DutyEnding { kOpen, kDone, kPassedOn, kNotNeeded };

/// One duty as it stands: of a session's list, or (without a session) of the building.
struct StandingDuty {
  proto::DutyOwed owed;  ///< only `id` where the session that owed it is not here
  std::optional<EntryRef> session;
  std::int64_t since_ms = 0;  ///< the session's end, else the ending's time
  DutyEnding ending = DutyEnding::kOpen;
  std::string reason;      ///< of the ending
  std::optional<Told> by;  ///< the ending that stands; absent: nobody has ended it
};

/// A duty that was done: cleans its zone, empties its bin, may be timed.
struct DoneFact {
  Told told;
  proto::DutyDone done;
  std::optional<proto::DutyOwed> owed;  ///< where its session is here
};

struct BinFact {
  Told told;
  std::string bin;
  bool emptied = false;       ///< by a bin-emptied entry, or a done duty "empty-bin:..."
  bool bag_replaced = false;  ///< where emptied
  std::string seen;           ///< otherwise: room, half, full, weak pull, or a newer word
};

struct ZoneFact {
  Told told;
  std::string zone;
  std::string seen;  ///< dirtier, cleaner
};

struct MachineNotice {
  Told told;  ///< of the latest machine-out entry
  std::string machine;
  std::string reason;
  /// Backs that do not count, since they had not seen that entry.
  std::vector<Told> unseen_backs;
};

struct SupplyNotice {
  Told told;
  std::string supply;
  bool low = false;  ///< else restocked
  std::optional<double> amount;
};

struct NoteFact {
  Told told;
  proto::Note note;
};

struct ClosingFact {
  Told told;
  proto::ShopClosed closed;
};

struct SheetFact {
  Told told;
  proto::SheetRevision revision;
};

class Views {
 public:
  /// Over a store that outlives them; catches up.
  static OrError<Views> open(LedgerStore& store);

  /// Folds what arrived since. Called with how many are folded and how many there are, now and
  /// then.
  using Progress = std::function<void(std::int64_t folded, std::int64_t all)>;
  OrError<void> catch_up(const Progress& progress = {});
  OrError<void> rebuild(const Progress& progress = {});

  /// All of these in the order of time (corrected), then entry name; `from_ms` leaves out earlier
  /// ones.
  OrError<std::vector<SessionFact>> sessions(std::int64_t from_ms = 0);
  OrError<std::vector<DoneFact>> done(std::int64_t from_ms = 0);
  OrError<std::vector<BinFact>> bins(std::int64_t from_ms = 0);
  OrError<std::vector<ZoneFact>> zones(std::int64_t from_ms = 0);
  OrError<std::vector<NoteFact>> notes(std::int64_t from_ms = 0);
  OrError<std::vector<ClosingFact>> closings(std::int64_t from_ms = 0);

  /// Open and passed-on duties, oldest first. Of a session's list, those nobody ended are open.
  OrError<std::vector<StandingDuty>> standing();
  /// One session's whole list as it stands, in its order.
  OrError<std::vector<StandingDuty>> list_of(const EntryRef& session);

  OrError<std::vector<MachineNotice>> machines_out();
  /// The latest word on each supply.
  OrError<std::vector<SupplyNotice>> supplies();
  /// The latest sheet revision by (clock, device, sequence).
  OrError<std::optional<SheetFact>> sheet();

  /// Every row of every view as text, in a fixed order: equal for equal sets of entries.
  OrError<std::string> dump();

 private:
  explicit Views(LedgerStore& store) : store_(&store) {}
  LedgerStore* store_;
};

}  // namespace chipfall
