#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "core/ledger/store.h"

/// What a ledger said was saved, held against what its file says now.
///
/// Each entry carries in `member` the batch (one call) it was made in, its place there and how many
/// there are, so that a call that is in the file by half shows, whoever reads the file.
namespace chipfall {

class Promises {
 public:
  explicit Promises(std::string device) : device_(std::move(device)) {}

  /// A new call of so many entries; its number.
  int begin_batch(int entries);
  /// What the entry at `place` (from 0) of a batch carries as its member.
  std::string tag(int batch, int place) const;
  /// Batches up to this one may be in the file: for a writer elsewhere, which begins its own.
  void allow_batches(int last);

  /// The ledger returned success for these.
  void saved(std::span<const std::string> entries);
  void epoch_asked(const std::string& epoch) { epochs_.insert(epoch); }
  void epoch_saved(const std::string& epoch) { epochs_ = {epoch}; }

  /// Everything that the ledger broke; empty when it kept its word:
  ///  - each saved entry is there, byte for byte, exactly once;
  ///  - each call is there as a whole or not at all, and nothing is there that nobody made;
  ///  - arrivals and own sequence numbers have no gaps; nothing that was seen has moved or changed;
  ///  - the clock is no earlier than any own entry, nor than it ever was;
  ///  - the epoch is the last one saved, or one that was being saved;
  ///  - pages and checksums are sound.
  /// What is found there counts as saved from now on.
  std::vector<std::string> broken(LedgerStore& store);

  std::size_t saved_entries() const { return saved_.size(); }
  /// Entries that were found although no success was reported: a cut between commit and answer.
  std::int64_t found_unreported() const { return found_unreported_; }

 private:
  using Name = std::pair<std::string, std::uint64_t>;

  std::string device_;
  std::map<int, int> batches_;  // their sizes
  std::optional<int> last_allowed_;
  std::map<Name, std::string> saved_;
  std::map<Name, std::int64_t> arrivals_;
  std::set<std::string> epochs_ = {""};
  HybridTime clock_;
  std::int64_t found_unreported_ = 0;
};

/// The batch, the place and the size that a tag says; nothing where it is no tag.
struct BatchPlace {
  int batch = 0;
  int place = 0;
  int size = 0;
};
std::optional<BatchPlace> read_tag(const std::string& tag);
std::string make_tag(const BatchPlace& place);

}  // namespace chipfall
