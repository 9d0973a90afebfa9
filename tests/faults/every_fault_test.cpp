#include <fmt/format.h>

#include "tests/faults/day.h"
#include "tests/faults/effort.h"
#include "tests/unit/ledger_folder.h"

/// Every operation of the disk in a scripted day fails once, in each way that it can, and from then
/// on; after each failure everything that was said to be saved must be there.
namespace chipfall {
namespace {

/// What a whole day asks of the disk.
std::vector<DiskOperation> operations_of_a_day() {
  const LedgerFolder folder;
  FaultyDisk disk;
  disk.track_syncs();
  disk.record();
  Day day(folder.file("a"), disk, AfterFailure::kOpenAgain);
  day.live();
  const std::vector<DiskOperation> operations = disk.recorded();
  day.look();
  CHECK(day.wrong().empty());
  CHECK(day.failures() == 0);
  CHECK(day.promises().saved_entries() == 37);
  return operations;
}

struct Tally {
  std::int64_t days = 0;
  std::int64_t fired = 0;             ///< days on which the fault came
  std::int64_t failures = 0;          ///< calls that returned an error
  std::int64_t found_unreported = 0;  ///< entries that a failed call had put on the disk
};

/// A day with one fault. At its end the power is cut: what the reopened ledger showed must survive.
void live_a_day(const FaultPlan& plan, AfterFailure after, Tally& tally) {
  const LedgerFolder folder;
  FaultyDisk disk(static_cast<std::uint64_t>(plan.at));
  disk.track_syncs();
  disk.fail(plan);
  Day day(folder.file("a"), disk, after);
  day.live();
  ++tally.days;
  tally.fired += disk.fired() > 0;
  disk.heal();
  day.look();
  tally.failures += day.failures();
  disk.cut_at(1);
  CHECK_FALSE(day.try_open());
  day.close();
  disk.restore();
  day.look();
  tally.found_unreported += day.promises().found_unreported();
  for (const std::string& problem : day.wrong()) {
    FAIL_CHECK(fmt::format("operation {}, fault {}{}: {}", plan.at, int(plan.fault),
                           plan.sticky ? ", from then on" : "", problem));
  }
}

Tally live_all_days(bool sticky) {
  const std::vector<DiskOperation> operations = operations_of_a_day();
  REQUIRE(operations.size() > 450);
  Tally tally;
  const auto last = static_cast<std::int64_t>(operations.size());
  for (std::int64_t at = 1; at <= last; at += kOperationStride) {
    for (const DiskFault fault : faults_of(operations[static_cast<std::size_t>(at - 1)])) {
      const bool retry = fault == DiskFault::kFull || fault == DiskFault::kRefused;
      live_a_day({at, fault, sticky}, retry ? AfterFailure::kGoOn : AfterFailure::kOpenAgain,
                 tally);
    }
  }
  CHECK(tally.fired == tally.days);  // each operation that was to fail did
  Tally beyond;
  live_a_day({last + 1, DiskFault::kError, sticky}, AfterFailure::kOpenAgain, beyond);
  CHECK(beyond.fired == 0);  // and there is none after the last
  MESSAGE(
      fmt::format("{} operations a day, {} days, {} failed calls, {} entries of failed calls "
                  "found whole",
                  last, tally.days, tally.failures, tally.found_unreported));
  return tally;
}

TEST_CASE("an operation of the disk that fails once costs nothing that was saved") {
  const Tally tally = live_all_days(false);
  CHECK(tally.days * kOperationStride > 900);
  CHECK(tally.failures * 2 > tally.days);
}

TEST_CASE("a disk that fails from some operation on costs nothing that was saved") {
  const Tally tally = live_all_days(true);
  CHECK(tally.days * kOperationStride > 900);
  CHECK(tally.failures * 2 > tally.days);
}

}  // namespace
}  // namespace chipfall
