#pragma once

#include <vector>

#include "core/duty/duty.h"

/// In which order one person works through the duties.
namespace chipfall {

/// Fills in `after` and `needs`: high before low where one lies over the other or is a ledge; a
/// machine is made safe before its table is cleaned; a full vac is emptied before it is used;
/// closing acts follow the floors and bins. Then sorts by phase and, within a phase, to the nearest
/// next place, vac before other tools on the floor; never a duty before one that it comes after.
std::vector<Duty> in_order(const Shop& shop, std::vector<Duty> duties);

}  // namespace chipfall
