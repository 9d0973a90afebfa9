#include "core/bins/forecast.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "core/bins/column.h"

namespace chipfall {
namespace {

int weekday(int day) { return ((day % 7) + 7) % 7; }

/// What fell on one day: expected share, and the variance that its sessions' spreads leave.
struct DaySum {
  double share = 0;
  double variance = 0;
};

std::vector<DaySum> sums_by_day(std::vector<BinEvent> events, int first_day, int days) {
  std::vector<DaySum> sums(days);
  for (const BinEvent& event : in_event_order(std::move(events))) {
    if (event.kind != BinEvent::Kind::kPush) continue;
    if (!(event.expected_share > 0) || !std::isfinite(event.expected_share)) continue;
    const double place = std::floor(event.day) - first_day;
    if (place < 0 || place >= days) continue;
    const double share = std::min(event.expected_share, kMostPush);
    const double spread =
        std::isnan(event.spread) ? kPushSpread : std::clamp(event.spread, 0.0, kMostSpread);
    DaySum& sum = sums[static_cast<size_t>(place)];
    sum.share += share;
    sum.variance += share * share * std::expm1(spread * spread);
  }
  return sums;
}

/// Of one weekday's sums, with the average day counting for kAverageWeeks weeks.
DayLoad load_of(const std::vector<DaySum>& sums, const DaySum& average) {
  const double weeks = static_cast<double>(sums.size()) + kAverageWeeks;
  double mean = kAverageWeeks * average.share;
  for (const DaySum& sum : sums) mean += sum.share;
  mean /= weeks;
  if (!(mean > 0)) return {};
  double variance = kAverageWeeks * average.variance;
  for (const DaySum& sum : sums) {
    variance += sum.variance + (sum.share - mean) * (sum.share - mean);
  }
  variance /= weeks;
  return {mean, std::min(std::sqrt(std::log1p(variance / (mean * mean))), kMostSpread)};
}

}  // namespace

Rhythm rhythm_of(std::vector<BinEvent> events, int first_day, int last_day) {
  Rhythm rhythm{};
  if (last_day < first_day) return rhythm;
  const long long span = static_cast<long long>(last_day) - first_day + 1;
  const int days = static_cast<int>(std::min<long long>(span, kRhythm_days));
  const int from = last_day - days + 1;
  const std::vector<DaySum> sums = sums_by_day(std::move(events), from, days);
  DaySum average;
  for (const DaySum& sum : sums) average.share += sum.share / days;
  for (const DaySum& sum : sums) {
    const double apart = sum.share - average.share;
    average.variance += (sum.variance + apart * apart) / days;
  }
  std::array<std::vector<DaySum>, 7> by_weekday;
  for (int d = 0; d < days; ++d) by_weekday[weekday(weekday(from) + d)].push_back(sums[d]);
  for (int w = 0; w < 7; ++w) rhythm[w] = load_of(by_weekday[w], average);
  return rhythm;
}

Forecast forecast(const Belief& belief, const Rhythm& rhythm, int today, double full_at) {
  Forecast answer;
  Belief then = belief;
  for (int days = 0; days <= kForecast_days; ++days) {
    if (days > 0) {
      const DayLoad& load = rhythm[weekday(weekday(today) + days)];
      drift(then, 1);
      push(then, load.mean_share, load.spread);
    }
    const double chance = chance_full(then, full_at);
    if (!answer.days_to_half_chance && chance >= 0.5) answer.days_to_half_chance = days;
    if (chance >= 0.9) {
      answer.days_to_nine_in_ten = days;
      break;
    }
  }
  return answer;
}

}  // namespace chipfall
