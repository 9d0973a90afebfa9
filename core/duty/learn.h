#pragma once

#include <span>

/// Learning how long duties take from those that recorded their time.
///
/// For one duty kind in one shop, ln(actual/estimated) is taken as normal. Its mean is the log of
/// the factor by which this shop's people differ from the estimate; its standard deviation, the
/// spread, is how evenings differ from each other. Both are unknown and have a prior; the mean is
/// found by normal-normal updates. A phone that was forgotten for two hours says nothing about the
/// work: each record belongs to the work or, with a small prior chance, to anything between a
/// second and a day, and counts by the weight that this leaves it.
namespace chipfall {

/// A belief about one number.
struct Normal {
  double mean = 0;
  double variance = 1;
};

/// The belief after one observation with normal error of this variance: precisions add, the mean
/// is theirs by weight. The scalar Kalman filter's update, and the conjugate one; any order of
/// observations gives the same belief but for rounding. An infinite variance teaches nothing.
Normal update(Normal prior, double observation, double variance);

/// A finished duty that recorded its time.
struct Record {
  double estimated_minutes = 0;  ///< the median before anything was learned
  double actual_minutes = 0;
};

/// What is believed before a shop has recorded anything.
struct Prior {
  /// The estimates come from published rates; on the whole they are right.
  double log_mean = 0;
  /// How far one shop lies from the published rates [c.p.]. These alone are up to ln(8.6/6) = 0.36
  /// apart for the same tool and floor (back-pack, ISSA), ln(30/20) = 0.41 by how much stands in
  /// the way; a crew that is twice as slow lies two of these off.
  double log_mean_sd = 0.35;
  /// How far evenings of one shop lie apart [c.p.]. With log_mean_sd it makes the 0.4 to 0.5 that
  /// an estimate may be off before anything is known (kZoneSpread).
  double log_spread = 0.3;
  /// The spread above counts as much as this many records would [c.p.].
  double spread_records = 4;
  /// Of so many records the time is not that of the work [c.p.]: forgotten, tapped twice.
  double stray_chance = 0.05;
};

/// What is believed about one duty kind of one shop.
struct Learned {
  double factor_median = 1;      ///< true minutes per estimated minute
  double log_mean = 0;           ///< ln(factor_median)
  double log_mean_sd = 0;        ///< how far ln(factor_median) may still be off
  double log_spread = 0;         ///< of evenings around it
  double predictive_spread = 0;  ///< both, so that p80_minutes(median, this) is the 80 % figure
  double worked = 0;             ///< records that look like work: the sum of their weights
  int used = 0;                  ///< records read
  int ignored = 0;               ///< records that cannot be: see kMostRecorded_minutes
};

/// Longer than a day, not above zero or not a number: not a duty's time.
inline constexpr double kMostRecorded_minutes = 24 * 60;

/// The belief after these records, whatever their order, bit for bit: they are sorted first.
///
/// Variational: the mean is normal given the spread, the spread scaled-inverse-chi-squared given
/// the mean, each record's weight its chance of being work given both; kRounds rounds from the
/// median of the records and some votes for the prior mean, so that a stray alone is a stray.
/// Within 3 % of the same model summed over a grid from five records on; where few records leave
/// open which of them are strays, it takes the likelier reading instead of hedging.
///
/// After 30 records of 2 to 20 estimated minutes (true factor 0.5 to 2, spread 0.2 to 0.5, up to
/// 5 % forgotten phones) the factor of the middle shop is within 7 %, of 87 % of shops within 10 %,
/// and the 80 % figure covers 76 to 83 % of new cases on average over shops. The standard error of
/// 30 records alone is spread/sqrt(30), 9 % for a spread of 0.5.
/// Time grows with the number of records: a caller with many years passes the last few hundred.
///
/// With no usable record the prior comes back, predictive_spread 0.51: callers that have a spread
/// of their own for the duty keep that until `used` is above zero (one record brings it to 0.41).
/// Sources: normal with semi-conjugate prior, Gelman et al., Bayesian Data Analysis, ch. 3 and 13
/// [memory]; its promises are measured in tests/unit/learn_test.cpp.
Learned learn(const Prior& prior, std::span<const Record> records);

inline constexpr int kRounds = 60;

/// Median minutes of the next such duty.
double median_minutes(const Learned& learned, double estimated_minutes);

/// Minutes that four evenings in five need no more than: Student's t with as many degrees of
/// freedom as the spread has records, on the log, since mean and spread are both uncertain.
double p80_minutes(const Learned& learned, double estimated_minutes);

}  // namespace chipfall
