#pragma once

#include <array>
#include <vector>

#include "core/shop/shop.h"

/// Fine dust that stays up: well mixed, it settles, is filtered, or is blown outside.
namespace chipfall {

/// Air at 25 C, 1 atm.
inline constexpr double kAirViscosity_Pa_s = 1.84e-5;   // CRC Handbook, air at 298 K [memory]
inline constexpr double kAirDensity_kg_per_m3 = 1.184;  // ideal gas, 298 K, 101325 Pa
inline constexpr double kMeanFreePath_um = 0.0651;      // checks: Seinfeld & Pandis, 298 K

/// Cunningham slip correction: 1 + (2 lambda/d)(1.257 + 0.4 exp(-0.55 d/lambda)).
/// Source: Zhang et al. 2001, Atmospheric Environment 35:549, eq. 3.
double slip_correction(double diameter_um);

/// Terminal settling speed in m/s of a sphere in still air. Stokes' law with slip correction;
/// from there on Schiller-Naumann drag C_D = 24/Re (1 + 0.15 Re^0.687), good to Re = 1000.
/// Source: Hinds, Aerosol Technology, ch. 3 [memory].
double settling_m_per_s(double diameter_um, double density_kg_per_m3);

/// The same by Stokes' law alone, for comparison with tables that stop there.
double stokes_settling_m_per_s(double diameter_um, double density_kg_per_m3);

/// Sizes by which a log-normal dust is followed, each standing for the same mass.
inline constexpr int kSizes = 8;

/// Aerodynamic diameters (unit density) of the middles of equal-mass slices, um.
std::array<double, kSizes> size_slices_um(double median_um, double gsd);

/// What removes fine dust from the room's air, per second. A size's own settling comes on top.
struct AirRates {
  double filters = 0;
  double exhaust = 0;
};

/// Rates with the filters that run during sessions, or with all of them.
AirRates rates_during(const Shop& shop);
AirRates rates_after(const Shop& shop);

/// Dust of one use on its way through the air: emitted evenly from one minute to another.
struct Emission {
  double grams = 0;
  double from_minute = 0;
  double to_minute = 0;
  double median_um = 10;
  double gsd = 2;
};

/// Grams, by what became of them; together what was emitted.
struct AirAccount {
  double settled = 0;
  double filtered = 0;
  double vented = 0;
  std::vector<double> airborne;  ///< by size, parallel to `settling_per_s`
  std::vector<double> settling_per_s;
  double airborne_g() const;
};

/// The account at `minute`. Exact: dm/dt = emission - k m has a closed solution for each size.
/// Precondition: `minute` is not before the end of any emission.
AirAccount air_account(const std::vector<Emission>& emissions, const AirRates& rates,
                       double ceiling_m, double minute);

/// Grams in the air at `minute`, which may lie within emissions.
double airborne_g(const std::vector<Emission>& emissions, const AirRates& rates, double ceiling_m,
                  double minute);

/// Minutes until `share` (say 0.99) of the dust in the air is gone; 0 when there is none, infinite
/// when nothing removes it. For one size: t = -ln(1 - share)/rate.
double clearance_minutes(const AirAccount& air, const AirRates& rates, double share);

/// Minutes until what is in the air has fallen to `grams`; 0 when it already has.
double minutes_until_g(const AirAccount& air, const AirRates& rates, double grams);

}  // namespace chipfall
