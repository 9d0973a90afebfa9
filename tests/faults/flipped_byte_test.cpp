#include <algorithm>
#include <random>
#include <set>

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "core/ledger/salvage.h"
#include "tests/faults/effort.h"
#include "tests/unit/ledger_folder.h"

using namespace chipfall;

namespace {

constexpr int kNotes = 400;
/// Of the notes here, some forty share a page of 4 KiB.
constexpr std::int64_t kMostOnTwoPages = 100;

std::vector<std::string> write_notes(const std::string& path) {
  LedgerStore store = ledger(path);
  for (int i = 0; i < kNotes; ++i) {
    proto::Entry entry = note(fmt::format("note {}", i));
    sure(store.append(entry, kTestNow_ms + i));
  }
  return all_bytes(store);
}

/// Whether the file, opened with every check, still tells all that was written. Damage that is
/// found is an answer, too; a ledger that tells something else is not.
enum class Verdict { kWhole, kFound, kLied };
Verdict look_at(const std::string& path, const std::vector<std::string>& made) {
  LedgerOptions options;
  options.may_create = false;
  options.quick_check = true;
  auto store = LedgerStore::open(path, options);
  if (!store || !store->check()) return Verdict::kFound;
  return all_bytes(*store) == made ? Verdict::kWhole : Verdict::kLied;
}

}  // namespace

TEST_CASE("any flipped byte is harmless or found, and most that are found cost a page or two") {
  const LedgerFolder folder;
  const std::string sound = folder.file("sound");
  const std::vector<std::string> made = write_notes(sound);
  const std::string bytes = contents(sound);
  const std::set<std::string> known(made.begin(), made.end());
  std::mt19937_64 random(11);
  int found = 0;
  int salvaged = 0;
  int nearly_whole = 0;
  for (int flip = 0; flip < kFlips; ++flip) {
    const std::size_t at = random() % bytes.size();
    const char other = static_cast<char>(bytes[at] ^ static_cast<char>(1 << (random() % 8)));
    const std::string path = folder.file(fmt::format("flipped {}", flip));
    std::ofstream(path, std::ios::binary) << bytes;
    overwrite(path, at, std::string(1, other));
    CAPTURE(at);
    // Looked at in a copy: opening a ledger may write to it.
    const std::string copy = folder.file("copy");
    std::ofstream(copy, std::ios::binary) << contents(path);
    const Verdict verdict = look_at(copy, made);
    REQUIRE(verdict != Verdict::kLied);
    for (const char* beside : {"", "-wal", "-shm"}) std::filesystem::remove(copy + beside);
    if (verdict == Verdict::kWhole) continue;
    ++found;
    const auto saved = salvage(path, folder.file(fmt::format("saved {}", flip)), "b", kTestNow_ms);
    if (!saved) continue;  // the page that names the tables was hit
    ++salvaged;
    LedgerStore store = ledger(folder.file(fmt::format("saved {}", flip)), "b");
    const std::vector<std::string> kept = all_bytes(store);
    CHECK(
        std::ranges::all_of(kept, [&](const std::string& entry) { return known.contains(entry); }));
    if (!saved->end_unknown) CHECK(saved->copied + saved->lost == kNotes);
    // A flip in an inner page hides the leaves that it names; most flips hit a leaf.
    nearly_whole += static_cast<std::int64_t>(kept.size()) >= kNotes - kMostOnTwoPages;
  }
  CHECK(found > kFlips / 4);
  CHECK(salvaged > found / 2);
  CHECK(nearly_whole > 4 * salvaged / 5);
  MESSAGE("of ", kFlips, " flips ", found, " found, ", salvaged, " salvaged, ", nearly_whole,
          " but for a page or two");
}
