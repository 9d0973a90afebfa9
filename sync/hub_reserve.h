#pragma once

#include <cstdint>
#include <functional>
#include <string>

#include "core/ledger/sqlite.h"

/// Space put aside for the day when the disk is full.
///
/// A hub whose disk has filled up must still let people read, revoke a device and see what is
/// wrong; in WAL mode SQLite needs some space even for that. So a file of kReserveBytes lies in the
/// data folder. When a commit fails for want of space it is removed, and no entries are taken until
/// there is room for it again: what it frees is for the administration, not for more entries.
namespace chipfall {

constexpr std::int64_t kReserveBytes = 8LL * 1024 * 1024;
/// Put back when so much would still be free beside it.
constexpr std::int64_t kRoomBesideReserve_bytes = 8LL * 1024 * 1024;

class DiskReserve {
 public:
  /// `free_bytes` tells how much may still be written in the folder; negative: nobody knows.
  DiskReserve(std::string path, std::int64_t bytes, std::function<std::int64_t()> free_bytes);

  /// Whether entries may be taken; tries to put the reserve back where it is missing.
  bool ready();
  void release();
  bool held() const { return held_; }
  std::int64_t free_bytes() const { return free_bytes_(); }

 private:
  bool put_aside();

  std::string path_;
  std::int64_t bytes_;
  std::function<std::int64_t()> free_bytes_;
  bool held_ = false;
};

std::int64_t free_bytes_in(const std::string& folder);

}  // namespace chipfall
