#include <fmt/format.h>

#include <random>

#include "tests/faults/effort.h"
#include "tests/faults/hub_day.h"
#include "tests/unit/ledger_folder.h"

/// Cases 5, 6, 8 and 9 for the hub's own log: every operation of its disk fails once or from then
/// on, or says "full", or is the last before the power goes, in a scripted day. What was
/// acknowledged is there afterwards.
namespace chipfall {
namespace {

std::vector<DiskOperation> operations_of_a_day() {
  const LedgerFolder folder;
  FaultyDisk disk;
  disk.track_syncs();
  HubDay day(folder.file("log"), disk);
  disk.record();
  day.live();
  const std::vector<DiskOperation> operations = disk.recorded();
  day.look();
  CHECK(day.wrong().empty());
  CHECK(day.failures() == 0);
  CHECK(day.acknowledged() == 45);
  return operations;
}

struct Tally {
  int days = 0, broken = 0, failures = 0, found_unacknowledged = 0, cuts_while_opening = 0,
      days_with_losses = 0, read_while_failing = 0, said_full = 0;
  std::string first;

  void add(const HubDay& day, const std::string& which) {
    ++days;
    failures += day.failures();
    found_unacknowledged += day.found_unacknowledged();
    read_while_failing += day.read_while_failing();
    said_full += day.said_full();
    if (!day.wrong().empty() && broken++ == 0) first = which + day.wrong().front();
  }
};

Tally fail_everywhere(bool sticky) {
  const std::vector<DiskOperation> operations = operations_of_a_day();
  REQUIRE(operations.size() > 300);
  Tally tally;
  for (std::size_t at = 1; at <= operations.size(); at += kHubStride) {
    for (const DiskFault fault : faults_of(operations[at - 1])) {
      const LedgerFolder folder;
      FaultyDisk disk(at);
      disk.track_syncs();
      HubDay day(folder.file("log"), disk);
      disk.fail({static_cast<std::int64_t>(at), fault, sticky});
      day.reads_must_work(fault == DiskFault::kFull);
      day.live();
      CHECK(disk.fired() + day.failures() > 0);
      disk.heal();
      day.look();
      // What was seen of a failed commit has to stay, too.
      disk.cut_at(1);
      CHECK_FALSE(day.try_open());
      day.close();
      disk.restore();
      day.look();
      tally.add(day, fmt::format("operation {}, fault {}{}: ", at, int(fault),
                                 sticky ? ", from then on" : ""));
    }
  }
  MESSAGE(
      fmt::format("{} operations a day, {} days, {} failed calls, {} times \"full\", read {} "
                  "times while failing, {} entries of failed commits found whole",
                  operations.size(), tally.days, tally.failures, tally.said_full,
                  tally.read_while_failing, tally.found_unacknowledged));
  return tally;
}

TEST_CASE("cases 8 and 9: a hub's disk that fails or is full once costs nothing acknowledged") {
  const Tally tally = fail_everywhere(false);
  CHECK_MESSAGE(tally.broken == 0, tally.first);
  CHECK(tally.failures * 3 > tally.days);
  CHECK(tally.said_full > 0);
  CHECK(tally.read_while_failing > 0);
}

TEST_CASE(
    "cases 8 and 9: a hub's disk that fails or is full from then on serves what can be read") {
  const Tally tally = fail_everywhere(true);
  CHECK_MESSAGE(tally.broken == 0, tally.first);
  CHECK(tally.failures * 3 > tally.days);
  CHECK(tally.said_full > 0);
  CHECK(tally.read_while_failing > 0);
}

TEST_CASE("a new shop whose disk fails is there whole, or can be made again") {
  const auto create = [](const std::string& path) {
    return SqliteHubLog::create(path, "otter-bend", "Otter Bend", std::string(kEpochBytes, 'e'),
                                {});
  };
  std::vector<DiskOperation> operations;
  {
    const LedgerFolder folder;
    FaultyDisk disk;
    disk.record();
    REQUIRE(create(folder.file("log")).has_value());
    operations = disk.recorded();
  }
  REQUIRE(operations.size() > 60);
  int failed = 0;
  for (std::size_t at = 1; at <= operations.size(); ++at) {
    for (const DiskFault fault : faults_of(operations[at - 1])) {
      for (const bool sticky : {false, true}) {
        const LedgerFolder folder;
        FaultyDisk disk(at);
        disk.fail({static_cast<std::int64_t>(at), fault, sticky});
        failed += !create(folder.file("log")).has_value();
        disk.heal();
        const bool there = std::filesystem::exists(folder.file("log"));
        const auto log =
            there ? SqliteHubLog::open(folder.file("log"), {}) : create(folder.file("log"));
        CHECK_MESSAGE(log.has_value(), "operation " << at << ", fault " << int(fault) << ": "
                                                    << (log ? "" : log.error().text()));
        if (log) CHECK((*log)->shop_name() == "Otter Bend");
      }
    }
  }
  CHECK(failed > 60);
}

Tally cut_everywhere(Lie lie, std::int64_t stride, int seeds, CutOf cut) {
  constexpr int kMostOpeningOperations = 60;  // the second cut falls somewhere among these
  Tally tally;
  bool reached_the_end = false;
  for (std::int64_t at = 1; !reached_the_end; at += stride) {
    for (int seed = 0; seed < seeds; ++seed) {
      const LedgerFolder folder;
      FaultyDisk disk(static_cast<std::uint64_t>(at * 10 + seed));
      disk.track_syncs(lie);
      HubDay day(folder.file("log"), disk);
      disk.cut_at(at, cut);
      day.live();
      day.close();
      reached_the_end = !disk.is_cut();
      if (reached_the_end) disk.cut_at(1);
      if (reached_the_end) (void)day.try_open();
      day.close();
      disk.restore();
      std::mt19937_64 random(static_cast<std::uint64_t>(at * 10 + seed));
      for (int again = 0; again < 2 && random() % 3 != 0; ++again) {
        disk.cut_at(1 + static_cast<std::int64_t>(random() % kMostOpeningOperations));
        const bool opened = day.try_open();
        if (opened && !disk.is_cut()) day.look();
        day.close();
        tally.cuts_while_opening += disk.is_cut();
        disk.restore();
      }
      if (cut == CutOf::kProcess) {
        // The hub comes up again and shows its log; then the power goes.
        day.look();
        disk.cut_at(1);
        day.close();
        disk.restore();
      }
      day.look();
      tally.days_with_losses += disk.writes_lost() > 0;
      tally.add(day, fmt::format("operation {}, seed {}: ", at, seed));
    }
  }
  MESSAGE(
      fmt::format("{} days, {} second cuts, unsynced writes lost on {}, {} unacknowledged "
                  "entries found whole, {} days broken",
                  tally.days, tally.cuts_while_opening, tally.days_with_losses,
                  tally.found_unacknowledged, tally.broken));
  return tally;
}

TEST_CASE("cases 5 and 6: after power cuts a hub has all that it acknowledged, in its place") {
  const Tally tally = cut_everywhere(Lie::kNone, kHubStride, 2, CutOf::kPower);
  CHECK_MESSAGE(tally.broken == 0, tally.first);
  CHECK(tally.cuts_while_opening * 5 > tally.days);
  CHECK(tally.days_with_losses * 5 > tally.days);
}

TEST_CASE(
    "what a hub shows after it was killed survives a power cut, though nobody had synced it") {
  const Tally tally = cut_everywhere(Lie::kNone, kHubStride, 1, CutOf::kProcess);
  CHECK_MESSAGE(tally.broken == 0, tally.first);
  CHECK(tally.found_unacknowledged * kHubStride > 10);
}

TEST_CASE("the check sees what a hub loses whose log is not synced at commit") {
  CHECK(cut_everywhere(Lie::kWalOnly, 13, 2, CutOf::kPower).broken > 5);
}

}  // namespace
}  // namespace chipfall
