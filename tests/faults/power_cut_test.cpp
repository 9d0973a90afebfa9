#include <fmt/format.h>

#include <random>

#include "tests/faults/day.h"
#include "tests/faults/effort.h"
#include "tests/unit/ledger_folder.h"

/// The power goes at every operation of the disk in a scripted day, and again while the ledger is
/// being opened after that; what was not synced survives in part, or not.
namespace chipfall {
namespace {

constexpr int kMostOpeningOperations = 60;  ///< the second cut falls somewhere among these
constexpr int kMostCutsInARow = 3;

struct Evening {
  bool was_cut = false;
  int cuts_while_opening = 0;
  std::int64_t writes_lost = 0;
  std::int64_t found_unreported = 0;
  std::vector<std::string> wrong;
};

/// One day up to the cut at that operation, and what the ledger says once it is open again.
Evening cut_at(std::int64_t operation, std::uint64_t seed, Lie lie) {
  const LedgerFolder folder;
  FaultyDisk disk(seed);
  disk.track_syncs(lie);
  disk.cut_at(operation);
  Day day(folder.file("a"), disk, AfterFailure::kOpenAgain);
  day.live();
  day.close();
  Evening evening;
  evening.was_cut = disk.is_cut();
  if (!evening.was_cut) disk.cut_at(1);
  if (!evening.was_cut) (void)day.try_open();
  day.close();
  disk.restore();
  std::mt19937_64 random(seed);
  for (int again = 1; again < kMostCutsInARow && random() % 3 != 0; ++again) {
    disk.cut_at(1 + static_cast<std::int64_t>(random() % kMostOpeningOperations));
    const bool opened = day.try_open();
    if (opened && !disk.is_cut()) day.look();
    day.close();
    evening.cuts_while_opening += disk.is_cut();
    disk.restore();
  }
  day.look();
  evening.writes_lost = disk.writes_lost();
  evening.found_unreported = day.promises().found_unreported();
  evening.wrong = day.wrong();
  return evening;
}

struct Tally {
  int days = 0;
  int broken = 0;
  int cuts_while_opening = 0;
  int days_with_losses = 0;  ///< when the cut took unsynced writes
  std::int64_t found_unreported = 0;
  std::string first;
};

Tally cut_everywhere(Lie lie, std::int64_t stride, int seeds) {
  Tally tally;
  bool reached_the_end = false;
  for (std::int64_t at = 1; !reached_the_end; at += stride) {
    for (int seed = 0; seed < seeds; ++seed) {
      const Evening evening = cut_at(at, static_cast<std::uint64_t>(at * 10 + seed), lie);
      reached_the_end = !evening.was_cut;
      ++tally.days;
      tally.cuts_while_opening += evening.cuts_while_opening;
      tally.days_with_losses += evening.writes_lost > 0;
      tally.found_unreported += evening.found_unreported;
      if (!evening.wrong.empty() && tally.broken++ == 0) {
        tally.first = fmt::format("operation {}, seed {}: {}", at, seed, evening.wrong.front());
      }
    }
  }
  MESSAGE(
      fmt::format("{} days: {} second cuts, unsynced writes lost on {}, {} unreported entries "
                  "found whole, {} days broken",
                  tally.days, tally.cuts_while_opening, tally.days_with_losses,
                  tally.found_unreported, tally.broken));
  return tally;
}

TEST_CASE("a power cut at any operation, and again while opening, loses nothing that was saved") {
  constexpr int kSeeds = 3;
  const Tally tally = cut_everywhere(Lie::kNone, kOperationStride, kSeeds);
  CHECK_MESSAGE(tally.broken == 0, tally.first);
  CHECK(tally.days * kOperationStride > 450 * kSeeds);
  CHECK(tally.cuts_while_opening * 4 > tally.days);
  CHECK(tally.days_with_losses * 4 > tally.days);
}

TEST_CASE(
    "what an opened ledger shows survives a power cut, though its writer ended before a sync") {
  std::int64_t found_unreported = 0;
  int days = 0;
  bool ended = true;
  for (std::int64_t at = 1; ended; at += kOperationStride) {
    const LedgerFolder folder;
    FaultyDisk disk(static_cast<std::uint64_t>(at));
    disk.track_syncs();
    disk.cut_at(at, CutOf::kProcess);
    Day day(folder.file("a"), disk, AfterFailure::kOpenAgain);
    day.live();
    day.close();
    ended = disk.is_cut();
    disk.restore();
    REQUIRE(day.try_open());
    day.look();
    disk.cut_at(1);
    day.close();
    CHECK((disk.is_cut() || !ended));
    disk.restore();
    day.look();
    found_unreported += day.promises().found_unreported();
    ++days;
    for (const std::string& problem : day.wrong()) {
      FAIL_CHECK(fmt::format("operation {}: {}", at, problem));
    }
  }
  CHECK(days * kOperationStride > 450);
  CHECK(found_unreported * kOperationStride > 10);
}

TEST_CASE(
    "the check sees the losses of a log that is not synced at commit, as synchronous=NORMAL") {
  const Tally tally = cut_everywhere(Lie::kWalOnly, 13, 2);
  CHECK(tally.broken * 10 > tally.days);
}

TEST_CASE("the check sees the losses of a disk that never syncs, as synchronous=OFF") {
  const Tally tally = cut_everywhere(Lie::kAll, 13, 2);
  CHECK(tally.broken * 10 > tally.days);
}

}  // namespace
}  // namespace chipfall
