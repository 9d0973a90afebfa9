#include "preview/terminal/ramp.h"

#include <cmath>

#include <fmt/format.h>

#include "core/shop/units.h"

namespace chipfall {
namespace {

constexpr std::array<double, kRampSteps - 1> kMetricBounds{1, 3, 10, 30, 100, 300};
constexpr std::array<double, kRampSteps - 1> kUsBounds{0.2, 0.6, 2, 6, 20, 60};

double linear(double channel) {
  return channel <= 0.04045 ? channel / 12.92 : std::pow((channel + 0.055) / 1.055, 2.4);
}

}  // namespace

double luminance(Ink ink) {
  return 0.2126 * linear(ink.red) + 0.7152 * linear(ink.green) + 0.0722 * linear(ink.blue);
}

double contrast(Ink a, Ink b) {
  const double one = luminance(a) + 0.05;
  const double other = luminance(b) + 0.05;
  return one > other ? one / other : other / one;
}

int ramp_step(double load_g_per_m2, Units units) {
  const bool metric = units == Units::kMetric;
  const double load = metric ? load_g_per_m2 : load_g_per_m2 / kGramsPerM2PerLbPer1000Ft2;
  int step = 0;
  for (double bound : metric ? kMetricBounds : kUsBounds) step += load >= bound ? 1 : 0;
  return step;
}

std::string ramp_bound(int step, Units units) {
  return fmt::format("{:g}", (units == Units::kMetric ? kMetricBounds : kUsBounds)[step - 1]);
}

std::string ramp_unit(Units units) { return units == Units::kMetric ? "g/m²" : "lb/1000 ft²"; }

Ink text_on(Ink ground) {
  return contrast(kBlack, ground) >= contrast(kWhite, ground) ? kBlack : kWhite;
}

}  // namespace chipfall
