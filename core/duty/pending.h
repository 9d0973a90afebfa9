#pragma once

#include <cstdint>
#include <string>
#include <vector>

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

}  // namespace chipfall
