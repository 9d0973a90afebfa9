#pragma once

#include <string>
#include <vector>

#include "core/duty/rules.h"

/// What can hurt someone tonight, and what the answer took for granted.
namespace chipfall {

/// Most pressing first; the last one always says that local codes, manuals and trained people
/// come before this list.
std::vector<std::string> cautions_for(const Shop& shop, const Session& session,
                                      const SessionDust& dust, const std::vector<ZoneCase>& zones,
                                      const AirOutlook& air);

std::vector<std::string> notes_for(const Shop& shop, const ShopState& state, const Session& session,
                                   const SessionDust& dust);

}  // namespace chipfall
