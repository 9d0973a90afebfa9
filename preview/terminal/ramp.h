#pragma once

#include <array>
#include <string>

#include "core/shop/shop.h"

/// Colours of the drawings, and the scale of shades for dust lying on a zone.
namespace chipfall {

/// sRGB, 0..1.
struct Ink {
  double red = 0;
  double green = 0;
  double blue = 0;
};

constexpr Ink ink_of(unsigned hex) {
  return {(hex >> 16 & 0xFFU) / 255.0, (hex >> 8 & 0xFFU) / 255.0, (hex & 0xFFU) / 255.0};
}

inline constexpr Ink kWhite = ink_of(0xffffff);
inline constexpr Ink kBlack = ink_of(0x1d1712);  ///< warm, near black: text
inline constexpr Ink kSoft = ink_of(0x5a5048);   ///< lesser text; 7.7:1 on white
inline constexpr Ink kHair = ink_of(0xb9ada0);   ///< rules; never text

/// Relative luminance and contrast ratio as WCAG 2.2 defines them.
double luminance(Ink ink);
double contrast(Ink a, Ink b);

/// Shades for 0-1, 1-3, 3-10, 10-30, 30-100, 100-300 and over 300 g/m2: loads of one evening run
/// over three decades, so the classes grow by a half decade each, the same every evening.
///
/// Warm paper to dark plum. CIE lightness falls from 95.5 to 23.5 in equal steps of 12, so the
/// order survives grey printing and every kind of colour vision; no step lies so near the middle
/// grey that neither black nor white text reads on it.
inline constexpr std::array<Ink, 7> kRamp{ink_of(0xfbf1e1), ink_of(0xe9cca4), ink_of(0xdaa56e),
                                          ink_of(0xca7c4d), ink_of(0xae5841), ink_of(0x883b41),
                                          ink_of(0x582841)};
inline constexpr int kRampSteps = static_cast<int>(kRamp.size());

/// Class of a load, 0 .. kRampSteps - 1; negative and NaN loads count as none. US shops see bounds
/// in lb/1000 ft2 (0.2, 0.6, 2 ...), which lie within 3 % of the metric ones.
int ramp_step(double load_g_per_m2, Units units);

/// Lower bound of class `step` >= 1 as the legend prints it ("3", "0.6").
std::string ramp_bound(int step, Units units);
std::string ramp_unit(Units units);

/// Black or white, whichever reads better on it.
Ink text_on(Ink ground);

}  // namespace chipfall
