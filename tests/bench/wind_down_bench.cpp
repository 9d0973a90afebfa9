#include <benchmark/benchmark.h>

#include "core/duty/wind_down.h"
#include "tests/bench/many_shops.h"

using namespace chipfall;
using namespace chipfall::bench;

namespace {

/// What a phone does between "we are done" and the list: the shop is loaded, nothing else is.
void wind_down_of(benchmark::State& state) {
  const Case evening = many_shops(static_cast<int>(state.range(0)));
  for (auto _ : state) {
    const Overlay overlay = overlay_of(evening.shop);
    benchmark::DoNotOptimize(wind_down(evening.shop, overlay, evening.state, evening.session));
  }
  const double machines = static_cast<double>(evening.shop.machines.size());
  const double zones = static_cast<double>(evening.shop.zones.size());
  state.counters["machines"] = machines;
  state.counters["zones"] = zones;
  state.counters["uses"] = static_cast<double>(evening.session.uses.size());
  // Falls with size where the time grows no faster than machines x zones.
  state.counters["s_per_machine_zone"] =
      benchmark::Counter(machines * zones, benchmark::Counter::kIsIterationInvariantRate |
                                               benchmark::Counter::kInvert);
}
BENCHMARK(wind_down_of)->Arg(1)->Arg(2)->Arg(5)->Arg(10)->Unit(benchmark::kMillisecond);

void load_the_sheet(benchmark::State& state) {
  builtin_library();
  for (auto _ : state) benchmark::DoNotOptimize(demo_evening());
}
BENCHMARK(load_the_sheet)->Unit(benchmark::kMillisecond);

}  // namespace
