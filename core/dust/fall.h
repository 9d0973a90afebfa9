#pragma once

#include <vector>

#include "core/dust/overlay.h"
#include "core/dust/throw.h"
#include "core/dust/visibility.h"

/// Where the uncaptured part lands.
namespace chipfall {

/// Shares of one throw, 0 to 1; together exactly 1.
struct FallShares {
  std::vector<double> zones;  ///< parallel to Shop::zones
  double open_floor = 1;      ///< floor that no zone names
};

/// What can be reached of the room from a machine's place, made once for all its throws.
struct View {
  Polygon visible;
  std::vector<std::vector<CatchTerm>> zones;  ///< Overlay::zones, cut at what is visible
};

/// Terms that lie farther than `reach_m` from `at` are left out.
View view_from(const Shop& shop, const Overlay& overlay, Point at, double reach_m);

/// How far any class that this kind throws can have mass at all.
double reach_m(const MachineKind& kind);

/// Shares of a class thrown from one place.
///
/// The planar normal is cut at the visible part of the room and renormalised, so no mass leaves.
/// Where the centre of the throw lies so far behind a wall that under kLeastInRoom of the normal
/// would be left, chips strike that wall and drop: the centre moves back along the throw to it.
FallShares fall_shares(const Shop& shop, const View& view, Point at, double heading_rad,
                       const ThrowKernel& kernel);

/// Shares of a fall that is even over the room's plan: dust that settles out of mixed air.
FallShares even_shares(const Shop& shop, const Overlay& overlay);

/// Renormalising by less would cost the 1e-9 that the account of grams must hold.
inline constexpr double kLeastInRoom = 1e-4;

}  // namespace chipfall
