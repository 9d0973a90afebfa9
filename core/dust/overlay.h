#pragma once

#include <vector>

#include "core/shop/shop.h"

/// Zones over zones: who catches what falls where a bench stands over a floor.
namespace chipfall {

/// A signed part of what a zone catches; see Overlay.
struct CatchTerm {
  Polygon part;
  double factor = 1;
  double top_m = 0;  ///< highest zone involved; a class that does not reach it skips the term
};

/// For each zone, what it catches of a density d over the plan is the sum over its terms of
/// factor x integral of d over the part.
///
/// A point of a zone gets d times its own cover (1 for a floor) times the product of (1 - cover)
/// over all higher zones there.
/// Multiplied out, that is a sum over the overlaps of the zone with its covers, with signs; most
/// are empty. A class that is thrown only so high leaves out every term with a higher zone in it,
/// which is the same as giving that zone no cover.
struct Overlay {
  std::vector<std::vector<CatchTerm>> zones;  ///< parallel to Shop::zones
  std::vector<double> exposed_m2;             ///< what each zone catches of an even fall
  Region open_floor;                          ///< floor that no zone names
};

Overlay overlay_of(const Shop& shop);

}  // namespace chipfall
