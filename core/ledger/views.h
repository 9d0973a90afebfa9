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
///    rebuilt at any time; a program that folds differently from the one that wrote them does so,
///    and so does `catch_up` after entries took new names.
///  - No appending waits for them.
///  - What cannot be folded (kinds of a newer version) is left out and counted; a newer fold, which
///    knows them, begins anew.
/// Verdicts, each the same in whatever order its entries arrive
///  - A duty's latest ending by (clock, device, sequence) stands; "reopened" makes it open again.
///  - A duty that stands open or passed on is settled, and no longer told as standing, when the
///    same id was done later (by corrected time) in another list or for the building: an id is the
///    same duty of the same shop in every list, so the floor that nobody ticked off three weeks ago
///    and that was swept since owes nothing. For "empty-bin:<bin>" a bin-emptied entry says the
///    same. Nothing is settled by age alone: what nobody has done is never dropped.
///  - A duty of the building comes back every evening, so each of its endings is a fact; the latest
///    says whether it stands, and a done one counts unless the next ending reopened it.
///  - A machine is out from its latest machine-out entry on, until a machine-back entry names that
///    very one as what the person saw, whatever their clocks say. A machine-back after it that
///    names another one changes nothing and is told as a notice.
///  - Everything else keeps all its facts.
///
/// Times are corrected (core/ledger/corrected_time.h): by the device's own clock measurements
/// (ClockMeasured), then, where that still cannot be, by the entry's clock. `doubtful` says that
/// it was. A measurement that arrives late corrects what was folded before.
///
/// Errors: those of the store. What was folded before a damaged entry stays. Tables that are not as
/// this program makes them are made anew when opened.
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
  std::int64_t since_ms = 0;  ///< the session's end; where that is not here, the ending's time
  DutyEnding ending = DutyEnding::kOpen;
  std::string reason;      ///< of the ending
  std::optional<Told> by;  ///< the ending that stands; absent: nobody has ended it
};

/// A duty that was done, and not reopened or ended otherwise since: cleans its zone, empties its
/// bin, may be timed. A session's duty that two people ended is told once, as the later one.
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
  /// Called with how many entries are folded and how many there are, now and then.
  using Progress = std::function<void(std::int64_t folded, std::int64_t all)>;

  /// Over a store that outlives them; catches up, from the beginning where there are no views yet,
  /// or none that this program can go on with.
  static OrError<Views> open(LedgerStore& store, const Progress& progress = {});

  /// Folds what arrived since, up to 20,000 entries in a transaction. Where it was broken off it
  /// goes on.
  OrError<void> catch_up(const Progress& progress = {});
  OrError<void> rebuild(const Progress& progress = {});

  // These answer from what was folded last: catch_up first.

  /// All of these in the order of time (corrected), then entry name; `from_ms` leaves out earlier
  /// ones.
  OrError<std::vector<SessionFact>> sessions(std::int64_t from_ms = 0);
  /// The latest first, until `take` says false: for who asks for the last few of years.
  OrError<void> sessions_back(const std::function<bool(SessionFact&&)>& take);
  /// Nothing where it is not here, or another kind of entry.
  OrError<std::optional<SessionFact>> session(const EntryRef& entry);
  OrError<std::vector<DoneFact>> done(std::int64_t from_ms = 0);
  OrError<std::vector<BinFact>> bins(std::int64_t from_ms = 0);
  OrError<std::vector<ZoneFact>> zones(std::int64_t from_ms = 0);
  OrError<std::vector<NoteFact>> notes(std::int64_t from_ms = 0);
  OrError<std::vector<ClosingFact>> closings(std::int64_t from_ms = 0);

  /// Open and passed-on duties that nothing settled, oldest first, then as listed. Of a session's
  /// list, those nobody ended are open. Of the building, those passed on or reopened.
  OrError<std::vector<StandingDuty>> standing();
  /// One session's whole list as it was ended (settled or not), in its order; then endings of
  /// duties that it did not list. Where the session is not here, the endings alone.
  OrError<std::vector<StandingDuty>> list_of(const EntryRef& session);

  /// By machine.
  OrError<std::vector<MachineNotice>> machines_out();
  /// The latest word on each supply, by supply.
  OrError<std::vector<SupplyNotice>> supplies();
  /// The latest sheet revision by (clock, device, sequence).
  OrError<std::optional<SheetFact>> sheet();

  /// How many folded entries are of kinds that this program does not know.
  OrError<std::int64_t> unknown_entries();

  /// Every row of every view as text, in a fixed order: equal for equal sets of entries.
  OrError<std::string> dump();

 private:
  explicit Views(LedgerStore& store) : store_(&store) {}
  LedgerStore* store_;
};

}  // namespace chipfall
