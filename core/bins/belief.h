#pragma once

#include <array>
#include <optional>
#include <string>

/// What is believed about one bin: how full it is, and how fast it fills compared with what its
/// machines suggest.
///
/// Fill is a share of the bin's volume. The rate factor is what truly falls for each litre that
/// the dust account expects; it is unknown, differs from bin to bin and hardly changes. Both are
/// believed together on a grid, so that a bin seen full early is also a bin that fills fast, and
/// stays one after it is emptied: that is how it learns.
///
/// Everything here is values in, values out; no clock. Total mass stays 1 to rounding. Odd input
/// (not a number, negative, huge) is ignored or clamped as each function says, and never gives a
/// NaN.
namespace chipfall {

/// Fill 0 to 1.3 in steps of 2 %: chips heap and are pressed, and a bin runs over.
inline constexpr int kFills = 66;
inline constexpr double kFillStep = 0.02;
inline constexpr double kMostFill = (kFills - 1) * kFillStep;

/// Rate factors 1/4 to 4, evenly spaced by their logs.
inline constexpr int kRates = 25;
inline constexpr double kMostRate = 4;
double rate_factor(int column);

/// What is believed of a bin that nobody has looked into.
struct BinPrior {
  /// Standard deviation of ln(rate factor) around 0 [c.p.]: capture and class shares are read off
  /// other shops' machines, so two bins in three lie within a factor of 1.65. Clamped to 0.02..2.
  double log_rate_sd = 0.5;
  /// Absent: anything from empty to full alike. Clamped to 0..1.3.
  std::optional<double> fill;
};

/// One column of fills for each rate factor.
///
/// A push moves a column by a fraction of a step. Splitting that over two neighbours would smear
/// it a little with every push; so each column's fills lie `offset` steps beside the grid, and the
/// part of its variance that the steps cannot show yet is `owed`. A hundred small pushes thus have
/// the mean and the spread of their sum.
struct Belief {
  std::array<std::array<double, kFills>, kRates> mass{};  ///< sums to 1
  std::array<double, kRates> offset{};                    ///< steps, -1/2 to 1/2
  std::array<double, kRates> owed{};                      ///< steps squared
  std::array<double, kRates> prior{};                     ///< of the rate factors; sums to 1
};

Belief start(const BinPrior& prior = {});

/// How far one session's true amount lies from rate factor x expected, as standard deviation of
/// its log [c.p.]: logged minutes are not minutes in the wood.
inline constexpr double kPushSpread = 0.35;
/// Pushes of these spreads take a tenth of the time: their shapes are worked out once.
inline constexpr std::array kKeptSpreads = {kPushSpread, 0.6, 1.0};
inline constexpr double kMostPush = 4;    ///< bins at once; more is a mistake, and full anyway
inline constexpr double kMostSpread = 1;  ///< 1.31 times the mean: days with nothing or a lot

/// A session adds `expected_share` of the volume times the rate factor times a log-normal with
/// mean 1. What runs over stays at 1.3. A share that is not above 0 (or not a number) changes
/// nothing; more than kMostPush reads as that; spread is clamped to 0..kMostSpread, not a number
/// reads as kPushSpread.
Belief pushed(const Belief& belief, double expected_share, double spread = kPushSpread);

/// What somebody saw. The first three are answers to one question; weak pull is noticed at a hood.
enum class Sighting { kRoom, kHalf, kFull, kWeakPull };
inline constexpr std::array<Sighting, 4> kAllSightings{Sighting::kRoom, Sighting::kHalf,
                                                       Sighting::kFull, Sighting::kWeakPull};

/// Where answers change, how blurred that is, and how often they are mere slips. All [c.p.].
inline constexpr double kRoomToHalf = 0.3;
inline constexpr double kHalfToFull = 0.8;
inline constexpr double kAnswerBlur = 0.06;  ///< logistic: 0.3 and 0.8 give or take 0.11
inline constexpr double kSlipChance = 0.05;  ///< wrong bin, wrong button: any of the three
inline constexpr double kPullFails = 0.95;   ///< fill at which half notice; see choke_factor
inline constexpr double kPullBlur = 0.04;
inline constexpr double kPullNoticed = 0.9;     ///< where the bin is beyond the brim
inline constexpr double kPullOtherwise = 0.05;  ///< filter, gate or hose, at any fill

/// Chance of this sighting when the bin is this full; never 0. The three answers sum to 1.
double chance_of(Sighting sighting, double fill);

/// The same under a belief: small means a surprise.
double chance_of(Sighting sighting, const Belief& belief);

Belief seen(const Belief& belief, Sighting sighting);

/// Of so many "emptied" the bin was another [c.p.]; without it, "full" a day later would be lost.
inline constexpr double kNotEmptiedChance = 0.02;

/// Fill to 0; the rate factor stays.
Belief emptied(const Belief& belief);

/// Once in so many days, on average, something changes (a hood, a habit, a member who planes) and
/// the rate factor is anybody's guess again [c.p.].
inline constexpr double kForget_days = 730;

/// Days go by: the rate factor returns towards its prior, the fill stays. Two waits make one long
/// one. Days that are not above 0 (or not a number) change nothing.
Belief drifted(const Belief& belief, double days);

double total(const Belief& belief);  ///< 1, to rounding

/// Chances of the fills 0, kFillStep, 2 kFillStep ..., whatever the rate factor; sums to `total`.
std::array<double, kFills> fill_chances(const Belief& belief);
double expected_fill(const Belief& belief);
double expected_rate(const Belief& belief);

/// Chance that the fill is at least this share of the volume; smooth in both. `at` is clamped to
/// 0.02..1.28, not a number reads as 1.
double chance_full(const Belief& belief, double at = 1);

/// Below this chance a sighting deserves a word.
inline constexpr double kSurprise = 0.15;

/// What a surprising sighting says about the bin, in words for whoever empties it; empty when it
/// is no surprise. `before` is the belief just before; `when` may be empty ("on Tuesday",
/// "yesterday"); `fallen` is what should have fallen since the bin was last emptied, in the shop's
/// units ("38 L"), empty where nobody knows when that was.
///
///     seen half on Tuesday, though 38 L should have fallen since it was emptied: this bin fills
///     slower than its machines suggest
std::string explained(const Belief& before, Sighting sighting, const std::string& when,
                      const std::string& fallen);

}  // namespace chipfall
