#include "tests/faults/disk/disk_faults.h"

#include <sqlite3.h>

namespace chipfall {

namespace {

int own_error(DiskOperation operation) {
  switch (operation) {
    case DiskOperation::kOpen:
      return SQLITE_CANTOPEN;
    case DiskOperation::kRead:
      return SQLITE_IOERR_READ;
    case DiskOperation::kWrite:
      return SQLITE_IOERR_WRITE;
    case DiskOperation::kTruncate:
      return SQLITE_IOERR_TRUNCATE;
    case DiskOperation::kSync:
      return SQLITE_IOERR_FSYNC;
    case DiskOperation::kFileSize:
      return SQLITE_IOERR_FSTAT;
    case DiskOperation::kLock:
      return SQLITE_IOERR_LOCK;
    case DiskOperation::kShmMap:
      return SQLITE_IOERR_SHMMAP;
    case DiskOperation::kShmLock:
      return SQLITE_IOERR_SHMLOCK;
    case DiskOperation::kDelete:
      return SQLITE_IOERR_DELETE;
    case DiskOperation::kAccess:
      return SQLITE_IOERR_ACCESS;
  }
  return SQLITE_IOERR;
}

}  // namespace

int result_of(DiskOperation operation, DiskFault fault) {
  if (fault == DiskFault::kFull) return SQLITE_FULL;
  if (fault != DiskFault::kRefused) return own_error(operation);
  return operation == DiskOperation::kRead ? SQLITE_IOERR_AUTH : SQLITE_BUSY;
}

std::vector<DiskFault> faults_of(DiskOperation operation) {
  switch (operation) {
    case DiskOperation::kRead:
      return {DiskFault::kError, DiskFault::kHalf, DiskFault::kRefused};
    case DiskOperation::kWrite:
      return {DiskFault::kError, DiskFault::kHalf, DiskFault::kFull};
    case DiskOperation::kLock:
    case DiskOperation::kShmLock:
      return {DiskFault::kError, DiskFault::kRefused};
    default:
      return {DiskFault::kError};
  }
}

}  // namespace chipfall
