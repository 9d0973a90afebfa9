#include <fmt/format.h>

#include <benchmark/benchmark.h>

#include <random>

#include "core/bins/forecast.h"
#include "core/bins/history.h"

using namespace chipfall;

namespace {

constexpr int kBins = 100;
constexpr int kDays = 365;

/// A year of one bin: sessions on four days of seven, a look now and then, emptied when called
/// full. Drawn from a seed with plain arithmetic, the same everywhere.
std::vector<BinEvent> year_of(unsigned seed) {
  std::mt19937 random(seed);
  const auto chance = [&] { return static_cast<double>(random() >> 8) * 0x1p-24; };
  std::vector<BinEvent> events;
  const double usual = 0.015 + 0.06 * chance();
  for (int day = 0; day < kDays; ++day) {
    if (chance() < 4.0 / 7) {
      events.push_back(
          push_event(fmt::format("p{}", day), day + 0.7, usual * (0.4 + 1.2 * chance())));
    }
    if (chance() < 1.0 / 7) {
      const Sighting seen = kAllSightings[random() % kAllSightings.size()];
      events.push_back(sighting_event(fmt::format("s{}", day), day + 0.8, seen));
      if (seen == Sighting::kFull) {
        events.push_back(emptied_event(fmt::format("x{}", day), day + 0.9));
      }
    }
  }
  return events;
}

std::vector<std::vector<BinEvent>> years() {
  std::vector<std::vector<BinEvent>> all;
  for (unsigned bin = 0; bin < kBins; ++bin) all.push_back(year_of(bin + 1));
  return all;
}

double count_of(const std::vector<std::vector<BinEvent>>& all) {
  double events = 0;
  for (const auto& year : all) events += static_cast<double>(year.size());
  return events;
}

void bins_100_years_folded(benchmark::State& state) {
  const auto all = years();
  for (auto _ : state) {
    double fill = 0;
    for (const auto& year : all) fill += expected_fill(fold(year, {}, kDays));
    benchmark::DoNotOptimize(fill);
  }
  state.counters["events"] = count_of(all);
}
BENCHMARK(bins_100_years_folded)->Unit(benchmark::kMillisecond);

/// What to measure the fold by: every event only copies the belief once and adds it up.
void bins_100_years_copied(benchmark::State& state) {
  const auto all = years();
  for (auto _ : state) {
    double sum = 0;
    for (const auto& year : all) {
      Belief belief = start();
      for (size_t i = 0; i < year.size(); ++i) {
        Belief copy = belief;
        benchmark::DoNotOptimize(copy);
        sum += total(copy);
        belief = copy;
      }
    }
    benchmark::DoNotOptimize(sum);
  }
}
BENCHMARK(bins_100_years_copied)->Unit(benchmark::kMillisecond);

void bin_forecast(benchmark::State& state) {
  const auto events = year_of(7);
  const Belief belief = fold(events, {}, kDays);
  const Rhythm rhythm = rhythm_of(events, 0, kDays - 1);
  for (auto _ : state) benchmark::DoNotOptimize(forecast(emptied(belief), rhythm, kDays - 1));
}
BENCHMARK(bin_forecast)->Unit(benchmark::kMicrosecond);

}  // namespace
