#pragma once

#include <string>

#include "core/ledger/sqlite.h"

/// Saving what can be read of a damaged ledger.
namespace chipfall {

struct Salvaged {
  std::int64_t copied = 0;  ///< entries whose checksum was right
  std::int64_t lost = 0;    ///< the rest, up to the last entry that the file still knows of
  /// The damage hides where the file's entries end: more than `lost` may be gone.
  bool end_unknown = false;
};

/// Copies every readable entry with a right checksum from the ledger at `path` to a new ledger at
/// `new_path`, which must not exist; `now_ms` is the wall clock.
///
/// The original is only read, from a copy beside the new file, and stays byte for byte; nothing may
/// write to it meanwhile. Entries keep their names, clocks, marks and order of arrival. The new
/// ledger belongs to `device`, a fresh random id: nobody can know which of the old id's sequence
/// numbers were lost, and a number is never used twice. Entries of the old id stay to be offered to
/// the hub. A file whose first page is gone gives an error, and no new ledger.
OrError<Salvaged> salvage(const std::string& path, const std::string& new_path,
                          const std::string& device, std::int64_t now_ms);

}  // namespace chipfall
