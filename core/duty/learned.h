#pragma once

#include <vector>

#include "core/duty/duty.h"
#include "core/shop/session.h"

namespace chipfall {

/// Puts what a shop's own records say in place of the published minutes: for each kind of duty
/// with records, the work on the spot is multiplied by the learned factor and its spread is the
/// predictive one (core/duty/learn.h). Walks stay what they are. Looks at the last
/// kMostLearnedFrom records of a kind.
void apply_learned(const std::vector<FinishedDuty>& finished, std::vector<Duty>& duties);

inline constexpr size_t kMostLearnedFrom = 200;

}  // namespace chipfall
