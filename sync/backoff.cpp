#include "sync/backoff.h"

#include <algorithm>
#include <cmath>

namespace chipfall {

std::int64_t backoff_ms(int failures, double chance) {
  const int doublings = std::clamp(failures - 1, 0, 20);
  const std::int64_t bound = std::min(kMostBackoff_ms, kFirstBackoff_ms << doublings);
  return static_cast<std::int64_t>(std::clamp(chance, 0.0, 1.0) * static_cast<double>(bound));
}

double GuessLimit::failures_at(const Bucket& bucket, std::int64_t now_ms, double per_ms) {
  const auto passed = static_cast<double>(std::max<std::int64_t>(0, now_ms - bucket.at_ms));
  return std::max(0.0, bucket.failures - passed * per_ms);
}

std::int64_t GuessLimit::wait_ms(const std::string& source, std::int64_t now_ms) const {
  const auto wait = [now_ms](const Bucket& bucket, double most, std::int64_t back_ms) {
    const double over = failures_at(bucket, now_ms, 1.0 / double(back_ms)) - (most - 1);
    return over > 0 ? static_cast<std::int64_t>(std::ceil(over * double(back_ms))) : 0;
  };
  const auto found = by_source_.find(source);
  const std::int64_t own =
      found == by_source_.end() ? 0 : wait(found->second, kMostGuesses, kGuessBack_ms);
  return std::max(own, wait(all_, kMostGuessesOfAll, kGuessBackOfAll_ms));
}

bool GuessLimit::may_try(const std::string& source, std::int64_t now_ms) {
  return wait_ms(source, now_ms) == 0;
}

void GuessLimit::failed(const std::string& source, std::int64_t now_ms) {
  forget_old(now_ms);
  const auto add = [now_ms](Bucket& bucket, std::int64_t back_ms) {
    bucket = {failures_at(bucket, now_ms, 1.0 / double(back_ms)) + 1, now_ms};
  };
  add(by_source_[source], kGuessBack_ms);
  add(all_, kGuessBackOfAll_ms);
}

void GuessLimit::forget_old(std::int64_t now_ms) {
  if (by_source_.size() < kMostGuessSources) return;
  std::erase_if(by_source_, [now_ms](const auto& item) {
    return failures_at(item.second, now_ms, 1.0 / double(kGuessBack_ms)) <= 0;
  });
  if (by_source_.size() < kMostGuessSources) return;
  // All sources together are bounded too, so what is forgotten gives an attacker little.
  by_source_.erase(std::min_element(
      by_source_.begin(), by_source_.end(),
      [](const auto& a, const auto& b) { return a.second.at_ms < b.second.at_ms; }));
}

}  // namespace chipfall
