#pragma once

#include "core/crew/evening.h"
#include "core/shop/error.h"
#include "core/shop/load.h"

namespace chipfall {

/// A crew in the middle of cleaning up, from text (message CrewNow): who is there, what is done or
/// under way, which tools are broken. Names of duties are those of `list`. All mistakes at once,
/// located, as in core/shop/load.h. `clock_minute` is the minute of the day it is, if given.
struct CrewNow {
  Crew crew;
  std::vector<std::string> done;
  std::optional<int> clock_minute;
};
Result<CrewNow> load_crew_now(const Text& text, const Shop& shop, const Session& session,
                              const WindDown& list);

}  // namespace chipfall
