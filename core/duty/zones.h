#pragma once

#include <vector>

#include "core/dust/account.h"
#include "core/duty/duty.h"

/// Which zones a session owes a cleaning, and how long each takes.
namespace chipfall {

/// One zone as the rules see it; `zone` is kNone for the open floor that no zone names.
struct ZoneCase {
  Index zone = kNone;
  double area_m2 = 0;        ///< of the zone
  double ring_m2 = 0;        ///< of it within the clean-out rings of the machines used
  double fallen_g = 0;       ///< this session
  double lying_g = 0;        ///< with what was carried over
  double load_g_per_m2 = 0;  ///< where it is to be cleaned
  double target_g_per_m2 = 5;
  double weight = 0;        ///< share of the session's fallen dust, fine dust counting more
  bool near_limit = false;  ///< half-way to the layer limit
  bool raised = false;      ///< gets a duty
};

/// Every zone, in the sheet's order, then the open floor.
///
/// A zone is raised when what fell there is more than its clean load, over the part that lies in
/// the ring of one of the machines used or over the whole, or when its layer is half-way to the
/// limit. Adding dust never takes a zone off the list.
std::vector<ZoneCase> zone_cases(const Shop& shop, const Overlay& overlay, const SessionDust& dust);

/// Duties for the raised ones. Tops, machines and ledges are cleaned whole; floors as far as the
/// rings reach.
std::vector<Duty> zone_duties(const Shop& shop, const SessionDust& dust,
                              const std::vector<ZoneCase>& cases);

/// The shop's own tool for this surface: a vac where there is one that does it, then broom, brush,
/// cloth, the nearest of several; kNone where the shop has none. Without the vacs where metal lies:
/// hot or sharp grit has no place in wood dust.
Index tool_for(const Shop& shop, Surface surface, Point at, bool metal = false);

/// Metal was cut so near that its grit lies here.
bool metal_on(const Shop& shop, const SessionDust& dust, Index zone);

/// How that tool cleans this surface; without a tool, a borrowed brush [c.p.].
CleaningMethod method_for(const Shop& shop, Index tool, Surface surface);

Surface surface_of(const Shop& shop, Index zone);

/// High, middle or floor, by the kind of zone.
Phase zone_phase(const Shop& shop, Index zone);
/// What can hurt whoever cleans it; `metal`: grit lies there.
std::string zone_caution(const Shop& shop, Index zone, bool metal);

/// Where people look for it.
Point place_of(const Shop& shop, Index zone);
std::string name_of(const Shop& shop, Index zone);

/// Watched from half the limit on: NFPA 654-2006 TIA asks for a closer look at 1/64 in, half of
/// the basic 1/32 in.
inline constexpr double kWatchedShareOfLimit = 0.5;

}  // namespace chipfall
