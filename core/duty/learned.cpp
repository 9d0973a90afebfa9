#include "core/duty/learned.h"

#include <algorithm>
#include <map>

#include "core/duty/learn.h"

namespace chipfall {

void apply_learned(const std::vector<FinishedDuty>& finished, std::vector<Duty>& duties) {
  std::map<DutyKind, std::vector<Record>> records;
  for (auto it = finished.rbegin(); it != finished.rend(); ++it) {
    std::vector<Record>& own = records[it->kind];
    if (own.size() < kMostLearnedFrom) own.push_back({it->estimated_minutes, it->actual_minutes});
  }
  std::map<DutyKind, Learned> learned;
  for (const auto& [kind, own] : records) learned[kind] = learn(Prior(), own);
  for (Duty& duty : duties) {
    duty.published_minutes = duty.minutes;
    const auto found = learned.find(duty.kind);
    if (found == learned.end() || found->second.used == 0) continue;
    const double on_the_spot = std::max(0.0, duty.minutes - duty.errand_minutes);
    duty.minutes = duty.errand_minutes + median_minutes(found->second, on_the_spot);
    duty.spread = found->second.predictive_spread;
  }
}

}  // namespace chipfall
