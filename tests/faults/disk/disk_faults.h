#pragma once

#include <vector>

/// What SQLite asks of a disk, how each can fail, and what SQLite is told then.
namespace chipfall {

enum class DiskOperation {
  kOpen,
  kRead,
  kWrite,
  kTruncate,
  kSync,
  kFileSize,
  kLock,
  kShmMap,
  kShmLock,
  kDelete,
  kAccess,
};

enum class DiskFault {
  kError,    ///< the operation's own I/O error; nothing was done
  kHalf,     ///< half a write is on the disk, half a read was read; then the error
  kFull,     ///< half a write is on the disk; then "no room"
  kRefused,  ///< somebody holds the lock, or reading is not allowed
};

/// The ways in which an operation can fail.
std::vector<DiskFault> faults_of(DiskOperation operation);

/// SQLite's result code of that failure.
int result_of(DiskOperation operation, DiskFault fault);

}  // namespace chipfall
