// Student's t with the one thing that the core asks of it. Boost's own quantile brings the inverses
// of the incomplete beta and gamma functions, 1 % of a phone's core; here Newton's method finds it
// on the same incomplete beta function, as far as doubles go. Found before Boost's header.
#pragma once

#include <boost/math/special_functions/beta.hpp>
#include <cmath>

namespace boost::math {

struct students_t {
  explicit students_t(double degrees_of_freedom) : freedom(degrees_of_freedom) {}
  double freedom;
};

/// For shares of a half or more; others end the core. There the curve of shares flattens all the way, so that from the
/// middle each step ends short of the answer, until rounding decides.
inline double quantile(const students_t& t, double share) {
  if (!(share >= 0.5 && share < 1)) __builtin_trap();
  const double scale = std::sqrt(t.freedom) * beta(t.freedom / 2, 0.5);
  double at = 0;
  for (int step = 0; step < 100; ++step) {
    const double to_tail = at * at / (t.freedom + at * at);
    const double above = 0.5 * ibetac(0.5, t.freedom / 2, to_tail);
    const double density = std::pow(1 - to_tail, (t.freedom + 1) / 2) / scale;
    const double next = at + (above - (1 - share)) / density;
    if (!(next > at)) break;
    at = next;
  }
  return at;
}

}  // namespace boost::math
