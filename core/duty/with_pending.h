#pragma once

#include "core/duty/pending.h"
#include "core/duty/wind_down.h"

namespace chipfall {

/// Most that pending duties add to a list, as a share of its own minutes [c.p.]: a session owes a
/// fair share of what others left, not the backlog of a week.
inline constexpr double kPendingShare = 0.25;

/// The member's list with what earlier lists passed on or left open, each with reason and age.
///
///  - A duty that the list has anyway, or a zone that it cleans anyway, is not listed twice: it
///  says
///    in its `why` that it was passed on.
///  - Safety duties come in, always.
///  - Of the others, those come in that weigh most, each day of age counting as once its weight
///    more, as long as together they stay within kPendingShare of the list's own minutes, or within
///    what is left of the shop's minimum where the list is shorter than that. The rest waits for
///    the next list or the lock-up; a note says how many.
/// The closing volunteer's own duties stay out. Order and sums are made anew.
WindDown with_pending(const Shop& shop, WindDown list, const std::vector<PendingDuty>& pending);

}  // namespace chipfall
