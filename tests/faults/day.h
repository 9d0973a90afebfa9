#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "tests/faults/disk/faulty_disk.h"
#include "tests/faults/promises.h"

/// A day in the life of a ledger, the same each time: a new file, entries of every kind one by one
/// and many at once, what other devices sent, repeats of it, a new epoch, checkpoints, and closing
/// and opening in between.
namespace chipfall {

/// What to do after a call that failed.
enum class AfterFailure {
  kOpenAgain,  ///< as the ledger asks after an error of the disk
  kGoOn,       ///< with the same connection: enough where room or a lock was missing
};

class Day {
 public:
  Day(std::string path, FaultyDisk& disk, AfterFailure after);

  /// Lives the day to its end, when the file is closed, or to a cut. A call that fails is followed
  /// by the end of the fault and by a look at everything promised; then the day goes on.
  void live();

  /// Looks at everything promised, opening the file for it where it is closed.
  void look();
  /// Opens the file only; whether that worked.
  bool try_open();
  void close() { store_.reset(); }

  Promises& promises() { return promises_; }
  /// What was found broken, and texts of errors that do not say what to do.
  const std::vector<std::string>& wrong() const { return wrong_; }
  int failures() const { return failures_; }  ///< calls that returned an error

 private:
  enum class What { kAppend, kReceive, kSendAgain, kEpoch, kReopen, kFoldLog };
  struct Step {
    What what;
    int entries = 0;
    int text_bytes = 0;
  };
  static const std::vector<Step>& steps();

  bool take(const Step& step);
  bool append(const Step& step);
  bool receive(const Step& step);
  bool failed(const Error& error);
  proto::Entry next_entry(int batch, int place, int text_bytes);

  std::string path_;
  FaultyDisk& disk_;
  AfterFailure after_;
  Promises promises_;
  std::optional<LedgerStore> store_;
  std::vector<std::string> wrong_;
  std::vector<std::string> sent_;  // the last batch that another device sent
  std::uint64_t sent_sequence_ = 0;
  std::int64_t now_ms_ = 1'780'000'000'000;  // in 2026
  int made_ = 0;
  int epochs_ = 0;
  int failures_ = 0;
};

}  // namespace chipfall
