#include <sqlite3.h>

#include <cstring>
#include <string_view>

#include "preview/phone/wasm/browser.h"

/// SQLite's file system on a phone: the files that the page opened before it opened the door.
///
/// Nobody else has them open (the browser sees to that), so locks are granted unseen. The core is
/// built with SQLITE_DEFAULT_LOCKING_MODE=1: an exclusive log keeps its index in the heap, and the
/// shared memory that WAL needs otherwise is never asked for.
/// Source: sqlite.org/vfs.html, sqlite.org/wal.html (section 8, without shared memory).
namespace {

struct PageFile {
  sqlite3_file base;
  std::int32_t number;
  bool remove_when_closed;
  char name[64];
};

constexpr int kSector = 4096;

PageFile& of(sqlite3_file* file) { return *reinterpret_cast<PageFile*>(file); }

std::string_view without_folder(const char* path) {
  const std::string_view name(path);
  return name.substr(name.rfind('/') + 1);  // npos + 1 is 0
}

/// What SQLite answers for a failure of the page.
int verdict(std::int32_t result, int failed) {
  if (result == kPageFull) return SQLITE_FULL;
  return result < 0 ? failed : SQLITE_OK;
}

int close_file(sqlite3_file* file) {
  page_close(of(file).number);
  if (of(file).remove_when_closed) {
    page_remove(of(file).name, static_cast<std::uint32_t>(std::strlen(of(file).name)));
  }
  return SQLITE_OK;
}

int read_file(sqlite3_file* file, void* to, int size, sqlite3_int64 from) {
  const std::int32_t read =
      page_read(of(file).number, to, static_cast<std::uint32_t>(size), static_cast<double>(from));
  if (read < 0) return SQLITE_IOERR_READ;
  if (read == size) return SQLITE_OK;
  std::memset(static_cast<char*>(to) + read, 0, static_cast<std::size_t>(size - read));
  return SQLITE_IOERR_SHORT_READ;
}

int write_file(sqlite3_file* file, const void* bytes, int size, sqlite3_int64 at) {
  return verdict(
      page_write(of(file).number, bytes, static_cast<std::uint32_t>(size), static_cast<double>(at)),
      SQLITE_IOERR_WRITE);
}

int truncate_file(sqlite3_file* file, sqlite3_int64 size) {
  return verdict(page_truncate(of(file).number, static_cast<double>(size)), SQLITE_IOERR_TRUNCATE);
}

int sync_file(sqlite3_file* file, int) {
  return verdict(page_flush(of(file).number), SQLITE_IOERR_FSYNC);
}

int size_of_file(sqlite3_file* file, sqlite3_int64* size) {
  const double bytes = page_size(of(file).number);
  if (bytes < 0) return SQLITE_IOERR_FSTAT;
  *size = static_cast<sqlite3_int64>(bytes);
  return SQLITE_OK;
}

int grant(sqlite3_file*, int) { return SQLITE_OK; }

int nobody_waits(sqlite3_file*, int* reserved) {
  *reserved = 0;
  return SQLITE_OK;
}

int control(sqlite3_file*, int, void*) { return SQLITE_NOTFOUND; }
int sector_size(sqlite3_file*) { return kSector; }

/// As SQLite takes for granted on Unix: a write that power cuts short harms no byte beside it.
int characteristics(sqlite3_file*) { return SQLITE_IOCAP_POWERSAFE_OVERWRITE; }

constexpr sqlite3_io_methods kMethods = {
    1,       close_file, read_file,    write_file, truncate_file, sync_file,       size_of_file,
    grant,   grant,      nobody_waits, control,    sector_size,   characteristics, nullptr,
    nullptr, nullptr,    nullptr,  // shared memory
    nullptr, nullptr};             // memory mapping

int open_file(sqlite3_vfs*, const char* path, sqlite3_file* file, int flags, int* out_flags) {
  file->pMethods = nullptr;
  if (path == nullptr) return SQLITE_CANTOPEN;  // temporary ones are kept in memory
  const std::string_view name = without_folder(path);
  PageFile& opened = of(file);
  if (name.size() >= sizeof opened.name) return SQLITE_CANTOPEN;
  const auto size = static_cast<std::uint32_t>(name.size());
  if ((flags & SQLITE_OPEN_CREATE) == 0 && page_exists(name.data(), size) != 1) {
    return SQLITE_CANTOPEN;
  }
  opened.number = page_open(name.data(), size);
  if (opened.number < 0) return SQLITE_CANTOPEN;
  std::memcpy(opened.name, name.data(), name.size());
  opened.name[name.size()] = '\0';
  opened.remove_when_closed = (flags & SQLITE_OPEN_DELETEONCLOSE) != 0;
  file->pMethods = &kMethods;
  if (out_flags != nullptr) *out_flags = flags;
  return SQLITE_OK;
}

int remove_file(sqlite3_vfs*, const char* path, int) {
  const std::string_view name = without_folder(path);
  return verdict(page_remove(name.data(), static_cast<std::uint32_t>(name.size())),
                 SQLITE_IOERR_DELETE);
}

int file_exists(sqlite3_vfs*, const char* path, int, int* there) {
  const std::string_view name = without_folder(path);
  // The folder itself, as `exists_for_sqlite` asks for it.
  *there = name == "." || page_exists(name.data(), static_cast<std::uint32_t>(name.size())) == 1;
  return SQLITE_OK;
}

int full_path(sqlite3_vfs*, const char* path, int room, char* out) {
  const std::size_t size = std::strlen(path) + 1;
  if (size > static_cast<std::size_t>(room)) return SQLITE_CANTOPEN;
  std::memcpy(out, path, size);
  return SQLITE_OK;
}

int random_bytes(sqlite3_vfs*, int size, char* bytes) {
  const auto wanted = static_cast<std::uint32_t>(size);
  return page_random(reinterpret_cast<std::uint8_t*>(bytes), wanted) == 0 ? size : 0;
}

int sleep_for(sqlite3_vfs*, int) { return 0; }  // nobody else has the files, so nothing waits

int time_now(sqlite3_vfs*, sqlite3_int64* julian_ms) {
  constexpr sqlite3_int64 kUnixEpoch_julian_ms = 210866760000000;  // of 1970-01-01
  *julian_ms = kUnixEpoch_julian_ms + static_cast<sqlite3_int64>(page_now());
  return SQLITE_OK;
}

int time_now_days(sqlite3_vfs* vfs, double* julian_days) {
  sqlite3_int64 ms = 0;
  time_now(vfs, &ms);
  *julian_days = static_cast<double>(ms) / 86400000.0;
  return SQLITE_OK;
}

int last_error(sqlite3_vfs*, int, char*) { return 0; }

sqlite3_vfs page_files = {
    2,        sizeof(PageFile),
    256,  // longest path
    nullptr,  "chipfall",       nullptr, open_file,    remove_file, file_exists,   full_path,
    nullptr,  // no extensions are loaded
    nullptr,  nullptr,          nullptr, random_bytes, sleep_for,   time_now_days, last_error,
    time_now, nullptr,          nullptr, nullptr};

}  // namespace

extern "C" int sqlite3_os_init() { return sqlite3_vfs_register(&page_files, 1); }
extern "C" int sqlite3_os_end() { return SQLITE_OK; }
