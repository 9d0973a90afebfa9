#pragma once

#include <string>
#include <vector>

#include "core/duty/pending.h"
#include "core/shop/session.h"

/// The closing volunteer's list: what earlier lists passed on or left open, and the building's own
/// closing duties. Order and crew are for core/crew/closing.h.
///
/// The building's duties are the standard ones with `when: "lock-up"`. Each is raised once for
/// every handful of its places that lie within a few steps of each other, with their names as
/// steps: a real place to walk to, not twenty lines. Lists that the sheet leaves empty (gates,
/// collectors, filters without a timer, bins) raise none; stations that it does not have raise one
/// without a place.
///
/// What comes first (`after`), beside the order of in_order among pending duties:
///   extraction off   after floors that are swept into its inlet; a vac's, after cleaning with vacs
///   bins felt        after their fan is off, before anybody opens them
///   gates closed     after their fan is off: with every gate shut it moves nothing
///   trash out        after cleaning, bins, scrap
///   keys back        after everything that was left over and the trash
///   lights           after everything but the way out, which is last
/// A pending duty that a duty of the building does anyway (collector off, filters on timer, oily
/// rags) becomes part of that one.
namespace chipfall {

/// What is known about this evening beside the shop's state.
struct LockUpTonight {
  std::vector<Index> gates_left_open;  ///< as sessions said
  bool oily_rags = false;
  bool sparks = false;
  double filter_minutes = 0;  ///< for the timers; 0: their shortest step
};

/// When a building's duty comes, beside what its places ask for.
enum class Closing { kAnytime, kTrash, kKeys, kLights, kWayOut };

struct LockUpDuty {
  Duty duty;  ///< errand_minutes 0: minutes on the spot, walking within it included
  bool building = false;
  bool placed = true;             ///< false: done wherever one happens to be
  std::string standard;           ///< id of the building's standard duty
  std::vector<PendingDuty> from;  ///< the lists' duties that it settles, oldest first
  std::string since;              ///< "passed on 2 h ago: no time"; empty for the building's own
  Closing closing = Closing::kAnytime;
};

/// A check that somebody answers for before the shop counts as closed.
struct SignOff {
  std::string id;  ///< the standard duty's, or the pending duty's
  std::string title;
  std::vector<std::string> duties;  ///< ids of the list
  std::string if_not;               ///< what to do where it cannot be done
};

struct LockUp {
  std::vector<LockUpDuty> duties;  ///< pending ones first, no walking order yet
  std::vector<SignOff> sign_off;
  std::vector<std::string> cautions;  ///< most pressing first
  std::vector<std::string> notes;
};

LockUp lock_up(const Shop& shop, const ShopState& state, const std::vector<PendingDuty>& pending,
               const LockUpTonight& tonight);

/// Places nearer to each other than this are one stop [c.p.]: four or five steps.
inline constexpr double kOneStop_m = 4;

}  // namespace chipfall
