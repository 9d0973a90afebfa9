#pragma once

#include <optional>

namespace chipfall {

/// The minutes that a duty took, from when it was opened, or the one before it was ended, to when
/// it was ended; nothing where those minutes say nothing of the work.
///
/// Duties that were done first and ticked off afterwards, one tap after the other, took no such
/// time: less than a quarter of a minute, or than a tenth of what was expected, is a tap. A
/// phone that was put away in between was not cleaning: more than ten times what was expected, and
/// more than half an hour. [c.p.] Both bounds are wide, so that a shop whose figures are wrong by
/// threefold still learns it. Rounded to the half minute, at least one half.
std::optional<double> taken_minutes(double clock_minutes, double expected_minutes);

inline constexpr double kTap_minutes = 0.25;
inline constexpr double kTapShare = 0.1;
inline constexpr double kPutAway_minutes = 30;
inline constexpr double kPutAwayTimes = 10;

}  // namespace chipfall
