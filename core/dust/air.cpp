#include "core/dust/air.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include <boost/math/distributions/normal.hpp>
#include <boost/math/tools/roots.hpp>

namespace chipfall {
namespace {

constexpr double kGravity_m_per_s2 = 9.81;
/// Of every size; the drag law above it ends at 100 um anyway, where fine dust does.
constexpr double kLargest_um = 100;

/// Grams of one emission still up at `minute`, given its removal rate.
double still_up(double grams, double from_s, double to_s, double now_s, double rate_per_s) {
  if (grams <= 0 || now_s <= from_s) return 0;
  const double shut_s = std::min(to_s, now_s);
  const double emitted = to_s > from_s ? grams * (shut_s - from_s) / (to_s - from_s) : grams;
  const double span = rate_per_s * (shut_s - from_s);
  const double kept = span < 1e-12 ? 1 : -std::expm1(-span) / span;
  return emitted * kept * std::exp(-rate_per_s * (now_s - shut_s));
}

double left_share(const AirAccount& air, const AirRates& rates, double seconds) {
  double left = 0;
  for (size_t i = 0; i < air.airborne.size(); ++i) {
    const double rate = air.settling_per_s[i] + rates.filters + rates.exhaust;
    left += air.airborne[i] * std::exp(-rate * seconds);
  }
  return left / air.airborne_g();
}

double minutes_until_share(const AirAccount& air, const AirRates& rates, double share_left) {
  if (air.airborne_g() <= 0 || share_left >= 1) return 0;
  double slowest = HUGE_VAL;
  double fastest = 0;
  for (size_t i = 0; i < air.airborne.size(); ++i) {
    if (air.airborne[i] <= 0) continue;
    const double rate = air.settling_per_s[i] + rates.filters + rates.exhaust;
    slowest = std::min(slowest, rate);
    fastest = std::max(fastest, rate);
  }
  if (slowest <= 0) return HUGE_VAL;
  const double early = -std::log(share_left) / fastest;
  const double late = -std::log(share_left) / slowest;
  const auto excess = [&](double s) { return left_share(air, rates, s) - share_left; };
  const double at_early = excess(early);
  const double at_late = excess(late);
  // Equal rates, or rounding at a bracket's end: the bracket is the answer.
  if (at_early <= 0) return early / 60;
  if (at_late >= 0) return late / 60;
  std::uintmax_t steps = 100;
  const auto [low, high] = boost::math::tools::toms748_solve(
      excess, early, late, at_early, at_late, boost::math::tools::eps_tolerance<double>(40), steps);
  return (low + high) / 2 / 60;
}

}  // namespace

double slip_correction(double diameter_um) {
  const double ratio = diameter_um / kMeanFreePath_um;
  return 1 + 2 / ratio * (1.257 + 0.4 * std::exp(-0.55 * ratio));
}

double stokes_settling_m_per_s(double diameter_um, double density_kg_per_m3) {
  const double d = diameter_um * 1e-6;
  return density_kg_per_m3 * d * d * kGravity_m_per_s2 * slip_correction(diameter_um) /
         (18 * kAirViscosity_Pa_s);
}

double settling_m_per_s(double diameter_um, double density_kg_per_m3) {
  const double stokes = stokes_settling_m_per_s(diameter_um, density_kg_per_m3);
  const double reynolds_per_speed = kAirDensity_kg_per_m3 * diameter_um * 1e-6 / kAirViscosity_Pa_s;
  // v (1 + 0.15 Re(v)^0.687) = v_stokes; the left side rises with v from 0.
  const auto excess = [&](double v) {
    return v * (1 + 0.15 * std::pow(reynolds_per_speed * v, 0.687)) - stokes;
  };
  if (excess(stokes) <= 0) return stokes;
  std::uintmax_t steps = 100;
  const auto [low, high] = boost::math::tools::toms748_solve(
      excess, 0.0, stokes, boost::math::tools::eps_tolerance<double>(40), steps);
  return (low + high) / 2;
}

std::array<double, kSizes> size_slices_um(double median_um, double gsd) {
  static const std::array<double, kSizes> z = [] {
    std::array<double, kSizes> out{};
    for (int i = 0; i < kSizes; ++i) {
      out[i] = boost::math::quantile(boost::math::normal(), (i + 0.5) / kSizes);
    }
    return out;
  }();
  std::array<double, kSizes> sizes{};
  for (int i = 0; i < kSizes; ++i) {
    sizes[i] = std::min(kLargest_um, median_um * std::exp(std::log(gsd) * z[i]));
  }
  return sizes;
}

AirRates rates_during(const Shop& shop) {
  AirRates rates{0, shop.exhaust_m3_per_s / shop.air_m3()};
  for (const AirFilter& filter : shop.filters) {
    if (filter.on_during_sessions) rates.filters += filter.clean_air_m3_per_s / shop.air_m3();
  }
  return rates;
}

AirRates rates_after(const Shop& shop) {
  AirRates rates{0, shop.exhaust_m3_per_s / shop.air_m3()};
  for (const AirFilter& filter : shop.filters) {
    rates.filters += filter.clean_air_m3_per_s / shop.air_m3();
  }
  return rates;
}

double AirAccount::airborne_g() const {
  return std::accumulate(airborne.begin(), airborne.end(), 0.0);
}

AirAccount air_account(const std::vector<Emission>& emissions, const AirRates& rates,
                       double ceiling_m, double minute) {
  AirAccount account;
  for (const Emission& emission : emissions) {
    if (emission.grams <= 0) continue;
    for (double size_um : size_slices_um(emission.median_um, emission.gsd)) {
      const double settling = settling_m_per_s(size_um, 1000) / ceiling_m;
      const double rate = settling + rates.filters + rates.exhaust;
      const double grams = emission.grams / kSizes;
      const double up =
          still_up(grams, emission.from_minute * 60, emission.to_minute * 60, minute * 60, rate);
      const double gone = grams - up;
      account.settled += gone * settling / rate;
      account.filtered += gone * rates.filters / rate;
      account.vented += gone * rates.exhaust / rate;
      account.airborne.push_back(up);
      account.settling_per_s.push_back(settling);
    }
  }
  return account;
}

double airborne_g(const std::vector<Emission>& emissions, const AirRates& rates, double ceiling_m,
                  double minute) {
  double up = 0;
  for (const Emission& emission : emissions) {
    for (double size_um : size_slices_um(emission.median_um, emission.gsd)) {
      const double rate =
          settling_m_per_s(size_um, 1000) / ceiling_m + rates.filters + rates.exhaust;
      up += still_up(emission.grams / kSizes, emission.from_minute * 60, emission.to_minute * 60,
                     minute * 60, rate);
    }
  }
  return up;
}

double clearance_minutes(const AirAccount& air, const AirRates& rates, double share) {
  return minutes_until_share(air, rates, 1 - share);
}

double minutes_until_g(const AirAccount& air, const AirRates& rates, double grams) {
  const double up = air.airborne_g();
  return up <= grams ? 0 : minutes_until_share(air, rates, grams / up);
}

}  // namespace chipfall
