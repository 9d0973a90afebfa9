#include "core/duty/taken.h"

#include <algorithm>
#include <cmath>

namespace chipfall {

std::optional<double> taken_minutes(double clock_minutes, double expected_minutes) {
  const double least = std::max(kTap_minutes, kTapShare * expected_minutes);
  const double most = std::max(kPutAway_minutes, kPutAwayTimes * expected_minutes);
  if (!(clock_minutes >= least && clock_minutes <= most)) return std::nullopt;
  return std::max(0.5, std::round(clock_minutes * 2) / 2);
}

}  // namespace chipfall
