#include <cmath>
#include <numbers>

#include <benchmark/benchmark.h>

#include "core/dust/throw.h"

using namespace chipfall;

namespace {

/// A bench turned against the throw, off to one side: a zone as they are, and one whose mass is
/// known by another road (strips of the turned normal, integrated to the last digit).
struct Case {
  Throw thrown{{0, 0}, 0, 0.7, 0.7};
  double angle_rad = 0.4;
  double left = 0.3, low = -0.5, right = 2.1, high = 0.3;
  Polygon zone() const {
    Polygon out;
    for (Point p : rectangle(left, low, right, high)) {
      out.push_back({p.x * std::cos(angle_rad) - p.y * std::sin(angle_rad),
                     p.x * std::sin(angle_rad) + p.y * std::cos(angle_rad)});
    }
    return out;
  }
  double exact() const {
    const auto strip = [&](double a, double b) {
      const double k = 0.7 * std::numbers::sqrt2;
      return 0.5 * (std::erf(b / k) - std::erf(a / k));
    };
    return strip(left, right) * strip(low, high);  // the normal is round: turning changes nothing
  }
};

void polygon_by_edges(benchmark::State& state) {
  const Case c;
  const Polygon zone = c.zone();
  double mass = 0;
  for (auto _ : state) benchmark::DoNotOptimize(mass = normal_mass(whitened(c.thrown, zone)));
  state.counters["error"] = std::abs(mass - c.exact());
}
BENCHMARK(polygon_by_edges);

/// The reference: midpoints of a 512 x 512 grid over the zone's bounds.
void polygon_by_grid(benchmark::State& state) {
  const Case c;
  const Polygon zone = whitened(c.thrown, c.zone());
  constexpr int kCells = 512;
  double mass = 0;
  for (auto _ : state) {
    const Box box = bounds(zone);
    const double dx = (box.high.x - box.low.x) / kCells;
    const double dy = (box.high.y - box.low.y) / kCells;
    mass = 0;
    for (int i = 0; i < kCells; ++i) {
      for (int j = 0; j < kCells; ++j) {
        const Point p{box.low.x + (i + 0.5) * dx, box.low.y + (j + 0.5) * dy};
        // The zone is convex: inside is left of every edge. Nothing slower is held against it.
        bool inside = true;
        for (size_t e = 0; e < zone.size() && inside; ++e) {
          inside = cross(zone[(e + 1) % zone.size()] - zone[e], p - zone[e]) >= 0;
        }
        if (inside) mass += std::exp(-dot(p, p) / 2);
      }
    }
    mass *= dx * dy / (2 * std::numbers::pi);
    benchmark::DoNotOptimize(mass);
  }
  state.counters["error"] = std::abs(mass - c.exact());
}
BENCHMARK(polygon_by_grid);

}  // namespace

BENCHMARK_MAIN();
