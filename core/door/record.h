#pragma once

#include "core/door/draft.h"
#include "core/ledger/views.h"

/// From what a shell wants to record to the entry that says so.
namespace chipfall {

inline constexpr std::size_t kLongestMember = 80;   ///< bytes of a person's name
inline constexpr std::size_t kLongestReason = 500;  ///< bytes; two lines on a phone
inline constexpr std::size_t kLongestNote = 4000;   ///< bytes; a page
inline constexpr std::size_t kLongestSupply = 80;
inline constexpr double kMostSupply = 1e6;

struct ToRecord {
  proto::Entry entry;
  proto::WindDown list;  ///< of a session that ended
  /// What that list passes on for want of time: to be recorded after the session, by its name.
  std::vector<proto::DutyPassedOn> passed_on;
};

/// Checks every argument against the sheet and the views and makes the entry, without a name and a
/// clock; nothing is stored. Mistakes carry the field's path in the request, such as
/// `bin_seen.bin`, and what would be right.
///
/// Filled in where the shell leaves it out: the session behind a duty (the latest list on which it
/// waits; for "reopened" the latest on which it ended; else the building), the kind and estimated
/// minutes of a duty that is done, the duties still open when the shop closes.
///
/// `found` matters to a session only.
Result<ToRecord> to_record(const proto::Record& asked, const OpenShop& open, Views& views,
                           const Found& found, std::int64_t now_ms);

/// The sheet as an entry, checked for length.
Result<proto::Entry> sheet_entry(const proto::LoadSheet& asked, const OpenShop& read,
                                 std::int64_t now_ms);

}  // namespace chipfall
