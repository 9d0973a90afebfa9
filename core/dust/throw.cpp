#include "core/dust/throw.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/tools/roots.hpp>

namespace chipfall {
namespace {

constexpr double kTurn = 2 * std::numbers::pi;

/// (1 - exp(-u))/u, smooth through u = 0.
double one_minus_exp_over(double u) { return u < 1e-12 ? 1 - u / 2 : -std::expm1(-u) / u; }

/// Integral of the field along the line at signed distance h from the origin, t from `from` to
/// `to`, in pieces short enough for the rule: half a piece of 1 sd leaves ten points an error below
/// 1e-14, by the growth of exp(-t^2/2) in the complex plane.
double along_line(double h, double from, double to) {
  using boost::math::quadrature::gauss;
  const auto field = [h](double t) { return h / 2 * one_minus_exp_over((h * h + t * t) / 2); };
  const double length = to - from;
  if (length <= 0.7) return gauss<double, 7>::integrate(field, from, to);
  const int pieces = static_cast<int>(std::ceil(length / 2));
  double sum = 0;
  for (int i = 0; i < pieces; ++i) {
    sum += gauss<double, 10>::integrate(field, from + length * i / pieces,
                                        from + length * (i + 1) / pieces);
  }
  return sum;
}

double angle_between(Point a, Point b) { return std::atan2(cross(a, b), dot(a, b)); }

/// One edge's part of the mass, times 2 pi.
double along_edge(Point a, Point b) {
  const Point edge = b - a;
  const double length = std::hypot(edge.x, edge.y);
  if (length == 0) return 0;
  const double h = cross(a, b) / length;
  if (std::abs(h) >= kReach_sd) return angle_between(a, b);
  const double ta = dot(a, edge) / length;
  const double tb = ta + length;
  const double reach = std::sqrt(kReach_sd * kReach_sd - h * h);
  if (ta >= reach || tb <= -reach) return angle_between(a, b);
  const Point along = (1 / length) * edge;
  const double from = std::max(ta, -reach);
  const double to = std::min(tb, reach);
  double sum = along_line(h, from, to);
  if (from > ta) sum += angle_between(a, a + (from - ta) * along);
  if (to < tb) sum += angle_between(b - (tb - to) * along, b);
  return sum;
}

bool out_of_reach(const Polygon& polygon) {
  const Box box = bounds(polygon);
  const double dx = std::max({box.low.x, -box.high.x, 0.0});
  const double dy = std::max({box.low.y, -box.high.y, 0.0});
  return dx * dx + dy * dy > kReach_sd * kReach_sd;
}

/// Mass of one class inside a circle of radius r around the machine: strips across the throw.
double mass_in_circle(const ThrowKernel& kernel, double r) {
  using boost::math::quadrature::gauss;
  const double low = std::max(-r, kernel.offset_m - kReach_sd * kernel.along_m);
  const double high = std::min(r, kernel.offset_m + kReach_sd * kernel.along_m);
  if (low >= high) return 0;
  const auto strip = [&](double x) {
    const double z = (x - kernel.offset_m) / kernel.along_m;
    const double half = std::sqrt(std::max(0.0, r * r - x * x));
    return std::exp(-z * z / 2) * std::erf(half / (kernel.across_m * std::numbers::sqrt2));
  };
  return gauss<double, 30>::integrate(strip, low, high) / (kernel.along_m * std::sqrt(kTurn));
}

}  // namespace

Throw placed(const ThrowKernel& kernel, Point at, double heading_rad) {
  const Point ahead{std::cos(heading_rad), std::sin(heading_rad)};
  return {at + kernel.offset_m * ahead, heading_rad, kernel.along_m, kernel.across_m};
}

Polygon whitened(const Throw& thrown, const Polygon& polygon) {
  const double c = std::cos(thrown.heading_rad);
  const double s = std::sin(thrown.heading_rad);
  Polygon out;
  out.reserve(polygon.size());
  for (Point p : polygon) {
    const Point d = p - thrown.centre;
    out.push_back({(c * d.x + s * d.y) / thrown.along_m, (c * d.y - s * d.x) / thrown.across_m});
  }
  return out;
}

double normal_mass(const Polygon& whitened_polygon) {
  const Polygon& polygon = whitened_polygon;
  if (polygon.size() < 3 || out_of_reach(polygon)) return 0;
  double sum = 0;
  for (size_t i = 0; i < polygon.size(); ++i) {
    sum += along_edge(polygon[i], polygon[(i + 1) % polygon.size()]);
  }
  return sum / kTurn;
}

double radius_holding_m(const std::array<ThrowKernel, kChipClasses>& thrown, const PerClass& grams,
                        double share) {
  const double total = sum(grams);
  if (total <= 0) return 0;
  const auto lacking = [&](double r) {
    double inside = 0;
    for (ChipClass c : kAllClasses) {
      if (grams[c] > 0) inside += grams[c] * mass_in_circle(thrown[c], r);
    }
    return inside / total - share;
  };
  double far = 0;
  for (ChipClass c : kAllClasses) {
    if (grams[c] <= 0) continue;
    const ThrowKernel& k = thrown[c];
    far = std::max(far, std::abs(k.offset_m) + kReach_sd * std::max(k.along_m, k.across_m));
  }
  // A millimetre is finer than any broom.
  const auto close = [](double a, double b) { return b - a < 1e-3; };
  std::uintmax_t steps = 60;
  const auto [low, high] =
      boost::math::tools::toms748_solve(lacking, 0.0, far, -share, lacking(far), close, steps);
  return (low + high) / 2;
}

}  // namespace chipfall
