#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/shop/shop.h"

/// Where the building's closing duties are done.
namespace chipfall {

/// One thing to see to.
struct ClosingPlace {
  PlaceKind kind = PlaceKind::kDoor;
  Index entry = kNone;  ///< of the sheet's list of that kind
  std::string id;
  std::string name;
  std::optional<Point> at;
};

/// All of these kinds, in the sheet's order. Filters without a timer have nothing to be set. A gate
/// without a place of its own is looked for at its machine.
std::vector<ClosingPlace> closing_places(const Shop& shop, const std::vector<PlaceKind>& kinds);

/// Kinds that the sheet lists beside its stations: where it lists none, there is nothing to do.
bool listed_by_itself(PlaceKind kind);

/// Those nearer to each other than `reach_m`, every one to every other, together, joined nearest
/// first; in the sheet's order, those without a place last in one group of their own.
std::vector<std::vector<ClosingPlace>> grouped(const std::vector<ClosingPlace>& places,
                                               double reach_m);

/// The one from which the others are nearest, taken together. The group has places.
Point middle_of(const std::vector<ClosingPlace>& group);

/// Shortest walk from one to the next, wherever it begins; 0 for a group without places.
double walk_within_minutes(const std::vector<ClosingPlace>& group);

}  // namespace chipfall
