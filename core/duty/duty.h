#pragma once

#include <string>
#include <vector>

#include "core/shop/shop.h"

namespace chipfall {

/// One thing to do (design, "Words"): place, tool, why, minutes, weight, caution, order.
struct Duty {
  std::string id;  ///< the same for the same duty of the same shop, whatever the session
  DutyKind kind = DutyKind::kClose;
  std::string title;
  std::string why;
  std::vector<std::string> steps;
  Index zone = kNone;
  Index machine = kNone;
  Index bin = kNone;
  Index collector = kNone;        ///< to be switched off
  double not_before_minutes = 0;  ///< after the last machine stops
  Index tool = kNone;             ///< of Shop::tools; kNone: hands
  Point at;
  std::string place;
  double minutes = 1;            ///< median, with the walk there and taking the tool down
  double errand_minutes = 0;     ///< the part of it that is walking and fetching
  double published_minutes = 1;  ///< `minutes` before the shop\'s own records changed them
  double spread = 0.3;           ///< standard deviation of ln(minutes)
  double weight = 0;
  Phase phase = Phase::kLast;
  bool safety = false;             ///< never passed on for want of time
  std::vector<std::string> after;  ///< ids of duties that come first
  std::vector<std::string> needs;  ///< those of `after` without which this one must not be done
  std::string caution;
  int people = 1;
  double grams = 0;  ///< lying there now, of a zone
  double area_m2 = 0;
  double passes = 0;
};

}  // namespace chipfall
