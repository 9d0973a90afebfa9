#pragma once

/// Exact conversions. Source: NIST Special Publication 811, appendix B.8.
namespace chipfall {

inline constexpr double kMetresPerInch = 0.0254;
inline constexpr double kMetresPerFoot = 0.3048;
inline constexpr double kKilogramsPerPound = 0.45359237;
inline constexpr double kCubicMetresPerCubicFoot = kMetresPerFoot * kMetresPerFoot * kMetresPerFoot;
inline constexpr double kLitresPerUsGallon = 3.785411784;
inline constexpr double kSquareMetresPerSquareFoot = kMetresPerFoot * kMetresPerFoot;
/// Dust on floors: 4.88 g/m2. Cleaning is reckoned by the 1000 ft2 in the US trade (ISSA 310).
inline constexpr double kGramsPerM2PerLbPer1000Ft2 =
    kKilogramsPerPound / kSquareMetresPerSquareFoot;

}  // namespace chipfall
