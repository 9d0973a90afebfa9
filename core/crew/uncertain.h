#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

/// Evenings that might be: joint draws of how long the duties of a list take.
///
/// Each duty's minutes are log-normal, of its median and spread (standard deviation of the log).
/// A tired crew is slow in everything, so the duties of one draw share a part of their deviation:
/// ln(minutes) = ln(median) + spread (sqrt(c) Z + sqrt(1 - c) Z_i), with one Z a draw.
namespace chipfall {

struct SampleOptions {
  std::size_t draws = 256;   ///< rounded up to a power of two, at most kMostDraws
  std::uint64_t seed = 1;    ///< another seed is another shift of the same points
  double common_share = 0.5; /**< c: of the variance of the log, 0 to 1 [c.p.]; between adding up
                                  all 80 % figures (1) and duties that know nothing of each other */
};

/// A second of work for 50 duties, and far beyond what a median needs.
inline constexpr std::size_t kMostDraws = std::size_t{1} << 16;

/// Draws of the minutes of each duty: result[draw][duty], every value >= 0.
///
/// Quasi-random: the first points of a Sobol sequence, moved by a random bit-wise shift for each
/// coordinate, through the normal quantile. Coordinate 0 is the common factor. Every coordinate
/// stands once in each of as many equally likely cells as there are draws. Off by, root mean square
/// in spreads (256 draws; plain random ones: 0.084): a duty's own figures 0.003 with all or nothing
/// in common; with half, 0.035 for the first dozen duties, 0.065 beyond the fortieth, where pairs
/// of coordinates are less even. The 80 % finish of twelve duties in a row: 0.9 %, plain 2.1 %.
/// Duties beyond the sequence's 3667 coordinates get plain random numbers. Spread 0 is the median.
///
/// Same seed, same draws. A duty's draws depend on its place in the list and on nothing of the
/// others: lengthening the list leaves them alone, and a longer median lengthens them in every
/// draw. `spreads` runs parallel to `medians`; both finite and >= 0.
/// Source: Joe and Kuo's direction numbers as in Boost.Random.
std::vector<std::vector<double>> sample_minutes(std::span<const double> medians,
                                                std::span<const double> spreads,
                                                const SampleOptions& options = {});

struct Quantiles {
  double median = 0;
  double p80 = 0;  ///< four draws in five lie below
};

/// Of equally likely values in any order: between the sorted ones, of which the i-th of n stands at
/// (i - 1/2)/n, linearly, and the last value beyond the ends. Zeros for no values; none may be NaN.
Quantiles quantiles_of(std::vector<double> values);

}  // namespace chipfall
