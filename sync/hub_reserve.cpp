#include "sync/hub_reserve.h"

#include <fcntl.h>
#include <sys/statvfs.h>
#include <unistd.h>

#include <filesystem>

namespace chipfall {

namespace fs = std::filesystem;

DiskReserve::DiskReserve(std::string path, std::int64_t bytes,
                         std::function<std::int64_t()> free_bytes)
    : path_(std::move(path)), bytes_(bytes), free_bytes_(std::move(free_bytes)) {
  std::error_code missing;
  const auto there = fs::file_size(path_, missing);
  held_ = !missing && static_cast<std::int64_t>(there) >= bytes_;
}

bool DiskReserve::ready() {
  if (held_) return true;
  const std::int64_t free = free_bytes_();
  if (free >= 0 && free < bytes_ + kRoomBesideReserve_bytes) return false;
  return put_aside();
}

bool DiskReserve::put_aside() {
  const int file = ::open(path_.c_str(), O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
  if (file < 0) return false;
  held_ = ::posix_fallocate(file, 0, bytes_) == 0;
  ::close(file);
  if (!held_) ::unlink(path_.c_str());
  return held_;
}

void DiskReserve::release() {
  ::unlink(path_.c_str());
  held_ = false;
}

std::int64_t free_bytes_in(const std::string& folder) {
  struct statvfs disk {};
  if (::statvfs(folder.c_str(), &disk) != 0) return -1;
  return static_cast<std::int64_t>(disk.f_bavail) * static_cast<std::int64_t>(disk.f_frsize);
}

}  // namespace chipfall
