#pragma once

#include <cstdint>
#include <map>
#include <string>

/// Waiting and counting, with time and chance as arguments.
namespace chipfall {

constexpr std::int64_t kFirstBackoff_ms = 1'000;
constexpr std::int64_t kMostBackoff_ms = 5 * 60'000;

/// How long to wait before the next try after `failures` in a row: anything up to a bound that
/// doubles from kFirstBackoff_ms to kMostBackoff_ms, picked by `chance` in [0, 1). Full jitter, so
/// that two hundred phones that wake at once do not come at once.
/// Source: Brooker, Exponential Backoff And Jitter (AWS Architecture Blog, 2015) [memory].
std::int64_t backoff_ms(int failures, double chance);

/// Counts wrong guesses by where they came from. A source may fail kMostGuesses times, and earns
/// one more try every kGuessBack_ms; so may all sources together, kMostGuessesOfAll times.
/// With 80 bits in a code and 15 minutes, 1,200 guesses in all find it with a chance of 1e-21.
class GuessLimit {
 public:
  bool may_try(const std::string& source, std::int64_t now_ms);
  void failed(const std::string& source, std::int64_t now_ms);
  /// How long until `may_try` says yes; 0: now.
  std::int64_t wait_ms(const std::string& source, std::int64_t now_ms) const;

  std::size_t sources() const { return by_source_.size(); }

 private:
  struct Bucket {
    double failures = 0;
    std::int64_t at_ms = 0;
  };
  static double failures_at(const Bucket& bucket, std::int64_t now_ms, double per_ms);
  void forget_old(std::int64_t now_ms);

  std::map<std::string, Bucket> by_source_;
  Bucket all_;
};

constexpr double kMostGuesses = 5;              ///< [c.p.]
constexpr double kMostGuessesOfAll = 300;       ///< [c.p.]
constexpr std::int64_t kGuessBack_ms = 60'000;  ///< for one source; [c.p.]
constexpr std::int64_t kGuessBackOfAll_ms = 1'000;
constexpr std::size_t kMostGuessSources = 10'000;  ///< remembered; beyond, the oldest are forgotten

}  // namespace chipfall
