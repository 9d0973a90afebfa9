#pragma once

#include <map>
#include <span>
#include <string>

#include "core/ledger/sqlite.h"

/// Changing what "never changes", for the two cases in which one name stands for two entries. Both
/// run inside the caller's transaction; the row keeps its arrival, and views are outdated in the
/// same transaction, so that they are made anew when they are next opened or caught up.
namespace chipfall {

/// Which entries of one device move to another name.
struct NewNames {
  std::string old_device;
  std::string new_device;
  std::map<std::uint64_t, std::uint64_t> sequences;  ///< old to new; others keep their name
};

/// The bytes of an entry that was made here, with its own name and those that it mentions changed.
/// Fields that this version does not know stay.
OrError<std::string> renamed_entry(const std::string& bytes, const NewNames& names);

/// An entry that is here as `device`, `sequence`, and its bytes under its new name.
struct MovedEntry {
  std::string device;
  std::uint64_t sequence = 0;
  std::string bytes;
};

/// Gives these entries their new names. One whose new name is here already with the same bytes only
/// leaves its old name; with other bytes it is refused.
OrError<void> move_entries(SqliteFile& file, std::span<const MovedEntry> entries);

/// Adds these bytes as received now; the name must be free.
OrError<void> insert_received(SqliteFile& file, const std::string& bytes, std::int64_t now_ms);

/// Puts these bytes, received now, in place of the entry that has the same name.
OrError<void> replace_entry(SqliteFile& file, const std::string& bytes, std::int64_t now_ms);

}  // namespace chipfall
