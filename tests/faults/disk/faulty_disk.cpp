#include "tests/faults/disk/faulty_disk.h"

#include <sqlite3.h>

#include <algorithm>
#include <cassert>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <random>
#include <utility>

#include "tests/faults/disk/file_image.h"

namespace chipfall {

namespace {

namespace fs = std::filesystem;

constexpr int kMostPath = 512;
constexpr int kSectorSizeTold = 4096;  // as SQLite's own layer says for a common disk

}  // namespace

/// What SQLite sees: its own two structs and the state that they share.
struct FaultyDisk::Layer {
  /// SQLite gives raw memory for this, with room for the real layer's file behind it.
  struct File {
    sqlite3_file base;
    Layer* layer;
    FileImage* image;  // null: not kept account of
    bool is_wal;
    bool syncs_folder;  // at its first sync, as SQLite's own layer does for logs and journals
    sqlite3_file* real() { return reinterpret_cast<sqlite3_file*>(this + 1); }
  };

  sqlite3_vfs* real = nullptr;
  sqlite3_vfs own{};
  FaultPlan plan;
  std::int64_t operations = 0;
  std::int64_t fired = 0;
  bool recording = false;
  std::vector<DiskOperation> recorded;
  bool tracking = false;
  Lie lie = Lie::kNone;
  std::int64_t cut_at = 0;
  CutOf how = CutOf::kPower;
  bool cut = false;
  std::int64_t writes_lost = 0;
  std::map<std::string, FileImage> images;
  std::mt19937_64 random;

  static Layer& of(sqlite3_vfs* vfs) { return *static_cast<Layer*>(vfs->pAppData); }
  static File& file_of(sqlite3_file* file) { return *reinterpret_cast<File*>(file); }

  void cut_now() {
    cut = true;
    if (how == CutOf::kProcess) return;
    for (auto& [path, image] : images) writes_lost += image.cut(random);
  }

  /// Whether this operation fails, and how. Only asks of `operation` count.
  int ask(DiskOperation operation) {
    if (cut) return result_of(operation, DiskFault::kError);
    ++operations;
    if (recording) recorded.push_back(operation);
    if (operations == cut_at) {
      cut_now();
      return result_of(operation, DiskFault::kError);
    }
    if (plan.at == 0 || operations < plan.at) return SQLITE_OK;
    if (operations > plan.at && !plan.sticky) return SQLITE_OK;
    const auto possible = faults_of(operation);
    if (std::find(possible.begin(), possible.end(), plan.fault) == possible.end()) {
      return SQLITE_OK;
    }
    ++fired;
    return result_of(operation, plan.fault);
  }

  bool cuts_next(CutOf cut_of) const { return !cut && how == cut_of && operations + 1 == cut_at; }
  bool does_half() const {
    return !cut && (plan.fault == DiskFault::kHalf || plan.fault == DiskFault::kFull);
  }
  bool syncs(const File& file) const {
    return lie == Lie::kNone || (lie == Lie::kWalOnly && !file.is_wal);
  }
};

namespace {

/// The functions that SQLite calls. `Layer` is private to the disk, hence the template.
template <typename Layer>
struct Calls {
  using File = typename Layer::File;

  static int open(sqlite3_vfs* vfs, const char* name, sqlite3_file* raw, int flags, int* out) {
    Layer& layer = Layer::of(vfs);
    File& file = Layer::file_of(raw);
    file.base.pMethods = nullptr;
    file.layer = &layer;
    file.image = nullptr;
    file.is_wal = (flags & SQLITE_OPEN_WAL) != 0;
    file.syncs_folder = (flags & SQLITE_OPEN_CREATE) != 0 &&
                        (flags & (SQLITE_OPEN_WAL | SQLITE_OPEN_MAIN_JOURNAL)) != 0;
    const int asked = layer.ask(DiskOperation::kOpen);
    if (asked != SQLITE_OK) return asked;
    constexpr int kKept = SQLITE_OPEN_MAIN_DB | SQLITE_OPEN_WAL | SQLITE_OPEN_MAIN_JOURNAL;
    const bool keep = layer.tracking && name && (flags & kKept) != 0;
    const bool is_new = keep && !fs::exists(name);
    const int result = layer.real->xOpen(layer.real, name, file.real(), flags, out);
    if (result != SQLITE_OK) return result;
    if (keep) {
      file.image = &layer.images[name];
      if (is_new) file.image->create();
    }
    file.base.pMethods = methods();
    return SQLITE_OK;
  }

  static int close(sqlite3_file* raw) {
    File& file = Layer::file_of(raw);
    return file.real()->pMethods->xClose(file.real());
  }

  static int read(sqlite3_file* raw, void* to, int amount, sqlite3_int64 at) {
    File& file = Layer::file_of(raw);
    const int asked = file.layer->ask(DiskOperation::kRead);
    const auto real_read = file.real()->pMethods->xRead;
    if (asked == SQLITE_OK) return real_read(file.real(), to, amount, at);
    if (file.layer->does_half()) (void)real_read(file.real(), to, amount / 2, at);
    return asked;
  }

  static int write(sqlite3_file* raw, const void* from, int amount, sqlite3_int64 at) {
    File& file = Layer::file_of(raw);
    // Kept before the question: a write that the cut interrupts may survive, whole or torn.
    if (file.image && file.layer->cuts_next(CutOf::kPower)) {
      file.image->write(at, bytes_of(from, amount));
    }
    const int asked = file.layer->ask(DiskOperation::kWrite);
    if (asked != SQLITE_OK && !file.layer->does_half()) return asked;
    const int length = asked == SQLITE_OK ? amount : amount / 2;
    if (file.image) file.image->write(at, bytes_of(from, length));
    const int result = file.real()->pMethods->xWrite(file.real(), from, length, at);
    return asked == SQLITE_OK ? result : asked;
  }

  static int truncate(sqlite3_file* raw, sqlite3_int64 size) {
    File& file = Layer::file_of(raw);
    const int asked = file.layer->ask(DiskOperation::kTruncate);
    if (asked != SQLITE_OK) return asked;
    if (file.image) file.image->truncate(size);
    return file.real()->pMethods->xTruncate(file.real(), size);
  }

  static int sync(sqlite3_file* raw, int) {
    File& file = Layer::file_of(raw);
    const int asked = file.layer->ask(DiskOperation::kSync);
    if (asked != SQLITE_OK) return asked;
    if (!file.image || !file.layer->syncs(file)) return SQLITE_OK;
    file.image->sync();
    if (std::exchange(file.syncs_folder, false)) {
      for (auto& [path, image] : file.layer->images) image.sync_name();
    }
    return SQLITE_OK;
  }

  static int file_size(sqlite3_file* raw, sqlite3_int64* size) {
    File& file = Layer::file_of(raw);
    const int asked = file.layer->ask(DiskOperation::kFileSize);
    return asked != SQLITE_OK ? asked : file.real()->pMethods->xFileSize(file.real(), size);
  }

  static int lock(sqlite3_file* raw, int level) {
    File& file = Layer::file_of(raw);
    const int asked = file.layer->ask(DiskOperation::kLock);
    return asked != SQLITE_OK ? asked : file.real()->pMethods->xLock(file.real(), level);
  }

  static int unlock(sqlite3_file* raw, int level) {
    File& file = Layer::file_of(raw);
    return file.real()->pMethods->xUnlock(file.real(), level);
  }

  static int check_reserved(sqlite3_file* raw, int* out) {
    File& file = Layer::file_of(raw);
    const int asked = file.layer->ask(DiskOperation::kLock);
    return asked != SQLITE_OK ? asked : file.real()->pMethods->xCheckReservedLock(file.real(), out);
  }

  static int control(sqlite3_file* raw, int what, void* argument) {
    File& file = Layer::file_of(raw);
    return file.real()->pMethods->xFileControl(file.real(), what, argument);
  }

  // The same on every machine, whatever its disk can do beyond that.
  static int sector_size(sqlite3_file*) { return kSectorSizeTold; }
  static int characteristics(sqlite3_file*) { return SQLITE_IOCAP_POWERSAFE_OVERWRITE; }

  static int shm_map(sqlite3_file* raw, int page, int size, int extend, void volatile** out) {
    File& file = Layer::file_of(raw);
    const int asked = file.layer->ask(DiskOperation::kShmMap);
    if (asked != SQLITE_OK) {
      *out = nullptr;
      return asked;
    }
    return file.real()->pMethods->xShmMap(file.real(), page, size, extend, out);
  }

  static int shm_lock(sqlite3_file* raw, int offset, int count, int flags) {
    File& file = Layer::file_of(raw);
    if ((flags & SQLITE_SHM_LOCK) != 0) {
      const int asked = file.layer->ask(DiskOperation::kShmLock);
      if (asked != SQLITE_OK) return asked;
    }
    return file.real()->pMethods->xShmLock(file.real(), offset, count, flags);
  }

  static void shm_barrier(sqlite3_file* raw) {
    File& file = Layer::file_of(raw);
    file.real()->pMethods->xShmBarrier(file.real());
  }

  static int shm_unmap(sqlite3_file* raw, int remove) {
    File& file = Layer::file_of(raw);
    return file.real()->pMethods->xShmUnmap(file.real(), remove);
  }

  static int remove(sqlite3_vfs* vfs, const char* name, int sync_folder) {
    Layer& layer = Layer::of(vfs);
    const int asked = layer.ask(DiskOperation::kDelete);
    if (asked != SQLITE_OK) return asked;
    const auto image = layer.images.find(name);
    if (layer.tracking && image != layer.images.end()) {
      image->second.remove();
      if (sync_folder != 0 && layer.lie != Lie::kAll) image->second.sync();
    }
    return layer.real->xDelete(layer.real, name, 0);
  }

  static int access(sqlite3_vfs* vfs, const char* name, int flags, int* out) {
    Layer& layer = Layer::of(vfs);
    const int asked = layer.ask(DiskOperation::kAccess);
    return asked != SQLITE_OK ? asked : layer.real->xAccess(layer.real, name, flags, out);
  }

  static int full_path(sqlite3_vfs* vfs, const char* name, int size, char* out) {
    Layer& layer = Layer::of(vfs);
    return layer.real->xFullPathname(layer.real, name, size, out);
  }

  static int randomness(sqlite3_vfs* vfs, int size, char* out) {
    Layer& layer = Layer::of(vfs);
    for (int i = 0; i < size; ++i) out[i] = static_cast<char>(layer.random());
    return size;
  }

  static int sleep(sqlite3_vfs*, int microseconds) { return microseconds; }

  static int last_error(sqlite3_vfs*, int, char*) { return 0; }

  static int time_double(sqlite3_vfs* vfs, double* out) {
    Layer& layer = Layer::of(vfs);
    return layer.real->xCurrentTime(layer.real, out);
  }

  static int time_whole(sqlite3_vfs* vfs, sqlite3_int64* out) {
    Layer& layer = Layer::of(vfs);
    return layer.real->xCurrentTimeInt64(layer.real, out);
  }

  static std::string_view bytes_of(const void* from, int amount) {
    return {static_cast<const char*>(from), static_cast<std::size_t>(amount)};
  }

  /// Version 2: with shared memory, without memory-mapped pages, which would go past this layer.
  static const sqlite3_io_methods* methods() {
    static const sqlite3_io_methods all = [] {
      sqlite3_io_methods made{};
      made.iVersion = 2;
      made.xClose = close;
      made.xRead = read;
      made.xWrite = write;
      made.xTruncate = truncate;
      made.xSync = sync;
      made.xFileSize = file_size;
      made.xLock = lock;
      made.xUnlock = unlock;
      made.xCheckReservedLock = check_reserved;
      made.xFileControl = control;
      made.xSectorSize = sector_size;
      made.xDeviceCharacteristics = characteristics;
      made.xShmMap = shm_map;
      made.xShmLock = shm_lock;
      made.xShmBarrier = shm_barrier;
      made.xShmUnmap = shm_unmap;
      return made;
    }();
    return &all;
  }

  static sqlite3_vfs vfs_over(const sqlite3_vfs& real, Layer* layer) {
    sqlite3_vfs made{};
    made.iVersion = 2;
    made.szOsFile = static_cast<int>(sizeof(File)) + real.szOsFile;
    made.mxPathname = kMostPath;
    made.zName = "faulty-disk";
    made.pAppData = layer;
    made.xOpen = open;
    made.xDelete = remove;
    made.xAccess = access;
    made.xFullPathname = full_path;
    made.xRandomness = randomness;
    made.xSleep = sleep;
    made.xCurrentTime = time_double;
    made.xGetLastError = last_error;
    made.xCurrentTimeInt64 = time_whole;
    return made;
  }
};

}  // namespace

FaultyDisk::FaultyDisk(std::uint64_t seed) : layer_(new Layer) {
  layer_->real = sqlite3_vfs_find(nullptr);
  layer_->own = Calls<Layer>::vfs_over(*layer_->real, layer_);
  layer_->random.seed(seed);
  // SQLite seeds its own generator once a process; this makes it ask the layer again.
  sqlite3_vfs_register(&layer_->own, 1);
  sqlite3_randomness(0, nullptr);
}

FaultyDisk::~FaultyDisk() {
  sqlite3_vfs_unregister(&layer_->own);
  sqlite3_vfs_register(layer_->real, 1);
  sqlite3_randomness(0, nullptr);
  delete layer_;
}

void FaultyDisk::fail(const FaultPlan& plan) {
  layer_->plan = plan;
  layer_->operations = 0;
  layer_->fired = 0;
}

bool FaultyDisk::heal() {
  const bool was_failing = layer_->plan.at != 0 && layer_->fired > 0;
  layer_->plan.at = 0;
  return was_failing;
}

std::int64_t FaultyDisk::operations() const { return layer_->operations; }

std::int64_t FaultyDisk::fired() const { return layer_->fired; }

void FaultyDisk::record() {
  layer_->recording = true;
  layer_->recorded.clear();
}

const std::vector<DiskOperation>& FaultyDisk::recorded() const { return layer_->recorded; }

void FaultyDisk::track_syncs(Lie lie) {
  layer_->images.clear();
  layer_->tracking = true;
  layer_->lie = lie;
}

void FaultyDisk::renamed(const std::string& from, const std::string& to) {
  const auto image = layer_->images.find(from);
  if (image == layer_->images.end()) return;
  image->second.sync();
  // Open files point to the image of their name, so it stays where it is.
  layer_->images[to] = std::move(image->second);
  layer_->images.erase(image);
}

void FaultyDisk::cut_at(std::int64_t operation, CutOf cut) {
  layer_->cut_at = operation;
  layer_->how = cut;
  layer_->operations = 0;
}

bool FaultyDisk::is_cut() const { return layer_->cut; }

void FaultyDisk::restore() {
  layer_->cut = false;
  layer_->cut_at = 0;
  if (layer_->how == CutOf::kProcess) return;
  for (const auto& [path, image] : layer_->images) {
    fs::remove(path);
    fs::remove(path + "-shm");
    if (!image.is_there()) continue;
    std::ofstream(path, std::ios::binary) << image.content();
  }
}

std::int64_t FaultyDisk::writes_lost() const { return layer_->writes_lost; }

}  // namespace chipfall
