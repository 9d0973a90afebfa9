#pragma once

#include "core/proto/shop.pb.h"
#include "core/shop/mistakes.h"

/// Every mistake in a shop sheet, as field paths without lines.
///
/// The parts are in files of their own: check_room.cpp (outline, zones, places), check_air.cpp
/// (gates, collectors, bins, supplies, filters), check_sheet.cpp (the rest).
namespace chipfall {

/// Empty means that build_shop may run. A sheet with a list over its limit is refused for that.
Errors check_sheet(const proto::ShopSheet& sheet, const Library& library);

/// The room, for the checks of what stands in it.
///
/// The outline counter-clockwise; empty where the sheet's is unusable, so that one wrong corner
/// does not put the whole shop outside.
Polygon check_room(const Spot& root, const proto::ShopSheet& sheet);

void check_zones(const Spot& root, const proto::ShopSheet& sheet, const Polygon& outline);

/// A place that the sheet must give: there, finite, in metres, and in the room unless `outline`
/// is empty.
void check_place(const Spot& at, bool given, const proto::Place& place, const Polygon& outline);

/// As check_place, where the sheet need not give one.
void check_place_if_any(const Spot& at, bool given, const proto::Place& place,
                        const Polygon& outline);

void check_gates(const Spot& root, const proto::ShopSheet& sheet, const Polygon& outline);
void check_collectors(const Spot& root, const proto::ShopSheet& sheet);
void check_bins(const Spot& root, const proto::ShopSheet& sheet);
void check_air(const Spot& at, const proto::Air& air, const Polygon& outline);
void check_supplies(const Spot& root, const proto::ShopSheet& sheet);

}  // namespace chipfall
