#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "core/duty/duty.h"

/// Duties of earlier lists that nobody has done yet, on their way into the next list.
namespace chipfall {

/// A duty of an earlier list that nobody has done yet: passed on with a reason, or left open.
struct PendingDuty {
  std::string id;  ///< as that list showed it, e.g. "zone:planer-floor"
  std::string title;
  std::string kind;
  double minutes = 1;
  double weight = 0;
  bool safety = false;
  std::string zone, machine, bin, place;
  bool passed_on = false;      ///< otherwise left open
  std::string reason;          ///< as it was given, may be empty
  double age_minutes = 0;      ///< since that session ended
  std::string session;         ///< its name, for people
  std::string session_device;  ///< with the sequence, the name of its session-ended entry
  std::uint64_t session_sequence = 0;
};

/// What several lists owe under one id, as one duty.
struct OwedDuty {
  PendingDuty duty;               ///< the newest one's words; most minutes and weight, oldest age
  std::vector<PendingDuty> from;  ///< all of them, oldest first
  std::string since;              ///< "passed on 3 days ago: no time, no tool"
};

/// One for each id: safety first, then the oldest, then by id.
std::vector<OwedDuty> merged(const std::vector<PendingDuty>& pending);

/// As a duty of this shop: its caution, order, tool and place looked up anew, since an earlier list
/// hands on only what people saw. Minutes are those that the list showed, learned corrections
/// included. `why` is `since`. A zone, machine or bin that the sheet no longer has leaves the duty
/// at the gathering place; its words still say where. A heavy bin asks for as many people as the
/// policy says, taken as full to its empty_at.
Duty duty_of(const Shop& shop, const OwedDuty& owed);

/// The sheet says where it is. The open floor counts: it begins where people gather.
bool has_place(const Duty& duty);

/// Where the collector is switched off.
Point place_of(const Shop& shop, const Collector& collector);

/// Most minutes that are believed of a pending duty; a longer one is a mistake in what was handed
/// on [c.p.].
inline constexpr double kMostPending_minutes = 120;

}  // namespace chipfall
