#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "preview/window/pen.h"

namespace chipfall::window {

/// Since when the duty on the screen has been worked at: since it was opened, which is when the one
/// before it was ended. Kept for the estimates alone; nobody's minutes are shown to anybody.
struct Timed {
  std::string duty;  ///< empty: none
  std::int64_t begun_ms = 0;
  double own_minutes = 0;  ///< as the person says; 0: as the clock says
};

/// Begins with this duty, unless it is the one already.
void begin_timed(Timed& timed, const std::string& duty, std::int64_t now_ms);

/// What is recorded with its end; nothing where the clock says nothing of the work
/// (core/duty/taken.h) and neither does the person.
std::optional<double> minutes_of(const Timed& timed, double expected_minutes, std::int64_t now_ms);

/// What would be recorded, to be changed in steps of a minute or five.
void timed_part(Pen& pen, const std::string& id, Timed& timed, double expected_minutes,
                std::int64_t now_ms);

}  // namespace chipfall::window
