#include "core/dust/overlay.h"

#include <algorithm>

namespace chipfall {
namespace {

/// Overlaps below a square centimetre are drawing inaccuracy, not shelves.
constexpr double kSmallestOverlap_m2 = 1e-4;

void add_cover(const Zone& cover, std::vector<CatchTerm>& terms) {
  const size_t before = terms.size();
  const Box box = bounds(cover.corners);
  for (size_t i = 0; i < before; ++i) {
    if (apart(bounds(terms[i].part), box)) continue;
    for (Polygon& part : intersection(terms[i].part, cover.corners)) {
      if (signed_area_m2(part) < kSmallestOverlap_m2) continue;
      terms.push_back({std::move(part), -cover.cover * terms[i].factor,
                       std::max(terms[i].top_m, cover.height_m)});
    }
  }
}

}  // namespace

Overlay overlay_of(const Shop& shop) {
  Overlay overlay;
  std::vector<Polygon> named;
  for (const Zone& zone : shop.zones) {
    named.push_back(zone.corners);
    // What a rail or a wire shelf lets pass it does not catch; below the floor there is nothing.
    const double kept = zone.kind == ZoneKind::kFloor ? 1 : zone.cover;
    std::vector<CatchTerm> terms{{zone.corners, kept, zone.height_m}};
    for (const Zone& other : shop.zones) {
      if (other.height_m > zone.height_m && other.cover > 0) add_cover(other, terms);
    }
    double exposed = 0;
    for (const CatchTerm& term : terms) exposed += term.factor * signed_area_m2(term.part);
    overlay.zones.push_back(std::move(terms));
    overlay.exposed_m2.push_back(std::max(0.0, exposed));
  }
  overlay.open_floor = remainder(shop.outline, named);
  return overlay;
}

}  // namespace chipfall
