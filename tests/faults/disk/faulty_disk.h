#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "tests/faults/disk/disk_faults.h"

/// A disk that fails when told to, for SQLite: a file system layer over the usual one.
///
/// While a FaultyDisk lives, every database opened in this process goes through it. It counts the
/// operations that SQLite asks for and can
///  - let the n-th one fail, once or from then on, in any of the ways that disks fail;
///  - end the process, or cut the power, at the n-th one. After a power cut, what was not synced
///  survives in part only: a seeded choice
///    of nothing, everything, a prefix, or any subset of the writes, single sectors of them torn
///    away.
/// Syncs are kept account of and not passed to the real disk, so that thousands of runs take
/// seconds. Waiting takes no time, and SQLite's randomness is seeded: same calls, same operations.
///
/// Limits: one at a time, one thread. Writes keep off bytes that they do not name (what SQLite
/// calls power-safe overwrite); a sync that succeeds is durable, also for the file's name; a delete
/// is durable once its folder was synced, which SQLite does with the first sync of a new log or
/// journal. Temporary files are passed through. Source: sqlite.org/c3ref/io_methods.html,
/// sqlite.org/psow.html, sqlite.org/atomiccommit.html.
namespace chipfall {

struct FaultPlan {
  std::int64_t at = 0;  ///< the first operation to fail, counted from 1; 0: none
  DiskFault fault = DiskFault::kError;
  bool sticky = false;  ///< so fail all later ones that can, until healed
};

/// Syncs that the disk acknowledges and does not do: for showing that a checker sees losses.
enum class Lie { kNone, kWalOnly, kAll };

/// How everything ends at once.
enum class CutOf {
  kPower,    ///< what was not synced survives by chance
  kProcess,  ///< what was written stays for the next process, synced or not
};

class FaultyDisk {
 public:
  explicit FaultyDisk(std::uint64_t seed = 1);
  FaultyDisk(const FaultyDisk&) = delete;
  FaultyDisk& operator=(const FaultyDisk&) = delete;
  ~FaultyDisk();

  /// Counts from 0 again and fails as planned.
  void fail(const FaultPlan& plan);
  /// Fails no more; the count goes on. Whether anything had failed since `fail`.
  bool heal();
  std::int64_t operations() const;
  std::int64_t fired() const;  ///< operations that failed since `fail`

  /// Every operation since this call, in order; for choosing what to fail.
  void record();
  const std::vector<DiskOperation>& recorded() const;

  /// Forgets all files and starts to keep account of what is synced. Files must not exist yet.
  void track_syncs(Lie lie = Lie::kNone);
  /// A file got another name, durably, by other hands than SQLite's, and was not written since.
  void renamed(const std::string& from, const std::string& to);
  /// Counts from 0 again and cuts at the n-th operation: it and all later ones fail. 0: never.
  void cut_at(std::int64_t operation, CutOf cut = CutOf::kPower);
  bool is_cut() const;
  /// Goes on after a cut: the files are what survived. Every connection must be closed.
  void restore();
  /// Writes that were lost in whole or in part at all cuts so far.
  std::int64_t writes_lost() const;

 private:
  struct Layer;
  Layer* layer_;  // SQLite keeps pointers into it
};

}  // namespace chipfall
