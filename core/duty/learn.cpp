#include "core/duty/learn.h"

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <numbers>
#include <vector>

namespace chipfall {
namespace {

constexpr double kNormal80 = 0.8416212335729143;  // standard normal, 80 %

/// Of a time that has nothing to do with the work, on the log: flat from a second to a day.
const double kStrayDensity = 1 / std::log(kMostRecorded_minutes * 60);

/// So often the prior mean stands among the records when the start is chosen: one stray does not
/// carry it away, four records that agree do.
constexpr size_t kPriorVotes = 4;

bool usable(double minutes) {
  return minutes > 0 && minutes <= kMostRecorded_minutes;  // false for what is not a number
}

double normal_density(double difference, double variance) {
  return std::exp(-0.5 * difference * difference / variance) /
         std::sqrt(2 * std::numbers::pi * variance);
}

double median(std::vector<double> values) {
  std::ranges::sort(values);
  const size_t half = values.size() / 2;
  return values.size() % 2 == 1 ? values[half] : 0.5 * (values[half - 1] + values[half]);
}

struct Belief {
  Normal mean;
  double variance = 0;  ///< of evenings
  double worked = 0;
};

Belief start(const Prior& prior, std::vector<double> log_ratios) {
  log_ratios.insert(log_ratios.end(), kPriorVotes, prior.log_mean);
  const double prior_variance = prior.log_mean_sd * prior.log_mean_sd;
  return {{median(std::move(log_ratios)), prior_variance}, prior.log_spread * prior.log_spread, 0};
}

Belief improved(const Prior& prior, const std::vector<double>& log_ratios, const Belief& old) {
  std::vector<double> weights;
  for (const double ratio : log_ratios) {
    const double work = (1 - prior.stray_chance) *
                        normal_density(ratio - old.mean.mean, old.variance + old.mean.variance);
    weights.push_back(work / (work + prior.stray_chance * kStrayDensity));
  }
  Belief next;
  next.mean = {prior.log_mean, prior.log_mean_sd * prior.log_mean_sd};
  for (size_t i = 0; i < log_ratios.size(); ++i) {
    // A share of a record is a record with so much more error.
    if (weights[i] > 0) next.mean = update(next.mean, log_ratios[i], old.variance / weights[i]);
  }
  double squares = prior.spread_records * prior.log_spread * prior.log_spread;
  for (size_t i = 0; i < log_ratios.size(); ++i) {
    const double difference = log_ratios[i] - next.mean.mean;
    squares += weights[i] * (difference * difference + next.mean.variance);
    next.worked += weights[i];
  }
  next.variance = squares / (prior.spread_records + next.worked);
  return next;
}

}  // namespace

Normal update(Normal prior, double observation, double variance) {
  if (std::isinf(variance)) return prior;
  const double gain = prior.variance / (prior.variance + variance);
  return {prior.mean + gain * (observation - prior.mean), gain * variance};
}

Learned learn(const Prior& prior, std::span<const Record> records) {
  std::vector<double> log_ratios;
  for (const Record& record : records) {
    if (!usable(record.estimated_minutes) || !usable(record.actual_minutes)) continue;
    log_ratios.push_back(std::log(record.actual_minutes) - std::log(record.estimated_minutes));
  }
  std::ranges::sort(log_ratios);

  Belief belief = start(prior, log_ratios);
  for (int round = 0; round < kRounds; ++round) belief = improved(prior, log_ratios, belief);

  Learned learned;
  learned.log_mean = belief.mean.mean;
  learned.factor_median = std::exp(belief.mean.mean);
  learned.log_mean_sd = std::sqrt(belief.mean.variance);
  learned.log_spread = std::sqrt(belief.variance);
  const boost::math::students_t t(prior.spread_records + belief.worked);
  learned.predictive_spread =
      boost::math::quantile(t, 0.8) * std::sqrt(belief.variance + belief.mean.variance) / kNormal80;
  learned.worked = belief.worked;
  learned.used = static_cast<int>(log_ratios.size());
  learned.ignored = static_cast<int>(records.size()) - learned.used;
  return learned;
}

double median_minutes(const Learned& learned, double estimated_minutes) {
  return learned.factor_median * estimated_minutes;
}

double p80_minutes(const Learned& learned, double estimated_minutes) {
  return median_minutes(learned, estimated_minutes) *
         std::exp(kNormal80 * learned.predictive_spread);
}

}  // namespace chipfall
