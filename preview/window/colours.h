#pragma once

#include <array>

/// The window's colours: paper and wood, and what may stand on what.
namespace chipfall::window {

/// sRGB as 0xRRGGBB.
using Rgb = unsigned;

inline constexpr Rgb kPaper = 0xf5ecdc;     ///< ground of every screen
inline constexpr Rgb kCard = 0xfffaf0;      ///< what lies on the paper
inline constexpr Rgb kSanded = 0xf2dcb3;    ///< a card that is chosen
inline constexpr Rgb kInk = 0x2a2018;       ///< text
inline constexpr Rgb kSoftInk = 0x5c4f42;   ///< lesser text
inline constexpr Rgb kWalnut = 0x5b3416;    ///< the main action
inline constexpr Rgb kLeaf = 0x23533a;      ///< done
inline constexpr Rgb kHoney = 0xffe2a0;     ///< ground of a caution
inline constexpr Rgb kHoneyInk = 0x3b2600;  ///< text of a caution
inline constexpr Rgb kBrick = 0x7a1e12;     ///< what can hurt, and what went wrong
inline constexpr Rgb kPale = 0xfff9ee;      ///< text on the dark ones
inline constexpr Rgb kGrain = 0x8a7558;     ///< edges that carry meaning: 3:1 on paper and card
inline constexpr Rgb kHairline = 0xdccbae;  ///< edges that carry none
inline constexpr Rgb kDesk = 0x3a3029;      ///< what the phones lie on
inline constexpr Rgb kDeskInk = 0xf3e6cf;

/// A text colour on its ground, as some widget uses it.
struct Pair {
  const char* use;
  Rgb ink;
  Rgb ground;
  bool danger;  ///< must reach 7:1, else 4.5:1
};

/// Every pair that widgets use; tests hold the recorded layer to this list as well.
inline constexpr std::array<Pair, 13> kPairs{{
    {"text on paper", kInk, kPaper, false},
    {"text on a card", kInk, kCard, false},
    {"text on a chosen card", kInk, kSanded, false},
    {"lesser text on paper", kSoftInk, kPaper, false},
    {"lesser text on a card", kSoftInk, kCard, false},
    {"lesser text on a chosen card", kSoftInk, kSanded, false},
    {"main action", kPale, kWalnut, false},
    {"done", kPale, kLeaf, false},
    {"caution", kHoneyInk, kHoney, true},
    {"danger", kPale, kBrick, true},
    {"danger as text", kBrick, kCard, true},
    {"done as text", kLeaf, kCard, false},
    {"beside the phones", kDeskInk, kDesk, false},
}};

/// Contrast ratio as WCAG 2.2 defines it, 1 to 21.
double contrast_of(Rgb a, Rgb b);

}  // namespace chipfall::window
