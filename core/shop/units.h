#pragma once

/// Exact conversions. Source: NIST Special Publication 811, appendix B.8.
namespace chipfall {

inline constexpr double kMetresPerInch = 0.0254;
inline constexpr double kMetresPerFoot = 0.3048;
inline constexpr double kKilogramsPerPound = 0.45359237;
inline constexpr double kCubicMetresPerCubicFoot = kMetresPerFoot * kMetresPerFoot * kMetresPerFoot;
inline constexpr double kLitresPerUsGallon = 3.785411784;
inline constexpr double kSquareMetresPerSquareFoot = kMetresPerFoot * kMetresPerFoot;

}  // namespace chipfall
