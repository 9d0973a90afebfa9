#pragma once

#include <array>

#include "core/bins/belief.h"

/// The same steps as in belief.h, done on a belief in place, for folding thousands of them; and
/// what they do to one column of fills. Loops have fixed order and few branches, so that they
/// run in the processor's lanes and still give the same bits every time.
namespace chipfall {

using Column = std::array<double, kFills>;

void push(Belief& belief, double expected_share, double spread);
void see(Belief& belief, Sighting sighting);
void empty(Belief& belief);
void drift(Belief& belief, double days);

/// Sum over a column, in six lanes: a single chain of additions would wait for each.
double sum_of(const Column& column);

/// Moves one column by `mean` steps with this variance (steps squared), shaped like a log-normal of
/// spread `log_sd`; what whole steps cannot show is carried in the belief's offset and owed.
/// `place` is the log-normal's place among the kernels kept for that spread.
struct KernelPlace {
  int spread = -1;  ///< of kKeptSpreads; below 0: none is kept for it
  int mean = 0;     ///< as in place_of_mean
};
void push_column(double mean, double variance, KernelPlace place, int rate, Belief& belief);

/// Its place in kKeptSpreads; -1 where it is not among them.
int place_of_spread(double log_sd);

/// The place of a mean among the kernels kept for one spread; one column further is
/// kPlacesPerColumn places.
int place_of_mean(double mean_steps);
inline constexpr int kPlacesPerColumn = 8;

}  // namespace chipfall
