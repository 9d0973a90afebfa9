#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/shop/check_sheet.h"
#include "core/shop/defaults.h"
#include "core/shop/load.h"

namespace chipfall {
namespace {

constexpr double kFarthestM = 1000;  ///< no shop is larger; millimetres are
constexpr double kSmallestRoomM2 = 4;
constexpr double kLargestRoomM2 = 20'000;
constexpr double kLowestCeilingM = 1.8;
constexpr double kHighestCeilingM = 20;
constexpr double kSmallestZoneM2 = 1e-3;  ///< a hand's breadth; smaller ones are slips
constexpr double kWallToleranceM = 0.01;  ///< tape measures disagree by this much
constexpr double kMostOverlapM2 = 0.01;
constexpr double kSameHeightM = 1e-3;

bool check_coordinate(const Spot& at, double metres) {
  if (std::abs(metres) <= kFarthestM) return true;
  at.mistake(std::isfinite(metres)
                 ? fmt::format("{} m is farther than {} m from the plan's origin; are these "
                               "millimetres? Give metres",
                               metres, kFarthestM)
                 : fmt::format("{} is not a figure; give metres", metres));
  return false;
}

/// The figures make a simple polygon; at most one mistake for each list.
bool check_corners(const Spot& at, const google::protobuf::RepeatedField<double>& figures) {
  if (figures.size() > 2 * kMostCorners) {
    at.mistake(fmt::format("{} corners are too many; at most {} are read", figures.size() / 2,
                           kMostCorners),
               ErrorCode::kOutOfBounds);
    return false;
  }
  for (double metres : figures) {
    if (!check_coordinate(at, metres)) return false;
  }
  if (figures.size() % 2 != 0) {
    at.mistake(fmt::format("{} figures make no whole corners; give x, y for each", figures.size()));
    return false;
  }
  const std::string why = why_not_simple(corners_of(figures));
  if (!why.empty()) {
    at.mistake("the outline " + why + "; give the corners in order, once around");
  }
  return why.empty();
}

bool check_box(const Spot& at, const google::protobuf::RepeatedField<double>& box) {
  if (box.size() != 4) {
    at.mistake(fmt::format("{} figures; a box has four: left, bottom, right, top", box.size()));
    return false;
  }
  for (double metres : box) {
    if (!check_coordinate(at, metres)) return false;
  }
  if (box[0] < box[2] && box[1] < box[3]) return true;
  at.mistake(
      fmt::format("[{}, {}, {}, {}] is not a box; give left, bottom, right, top with left "
                  "below right and bottom below top",
                  box[0], box[1], box[2], box[3]));
  return false;
}

/// The clipping library throws where its input contradicts itself beyond repair. Then nothing is
/// claimed about these two: a reader that survives is worth more than this one mistake.
double overlap_m2(const Polygon& a, const Polygon& b) {
  try {
    return area_m2(intersection(a, b));
  } catch (const std::exception&) {
    return 0;
  }
}

double outside_m2(const Polygon& outline, const Polygon& zone) {
  try {
    return contains(outline, zone, kWallToleranceM) ? 0 : area_m2(remainder(zone, {outline}));
  } catch (const std::exception&) {
    return 0;
  }
}

/// A zone whose own figures are sound enough to compare it with others.
struct Sound {
  int index;
  std::string id;
  Polygon corners;
  Box box;
  double height_m;
};

bool check_zone_corners(const Spot& at, const proto::Zone& zone, const Polygon& outline) {
  const bool has_box = zone.box_m_size() > 0;
  if (has_box == (zone.corners_m_size() > 0)) {
    at.mistake(has_box ? "has corners_m and box_m; keep one of them"
                       : "has no area; give corners_m or box_m");
    return false;
  }
  const Spot figures = at[has_box ? "box_m" : "corners_m"];
  if (has_box ? !check_box(figures, zone.box_m()) : !check_corners(figures, zone.corners_m())) {
    return false;
  }
  const Polygon corners = corners_of(zone);
  const double area = signed_area_m2(corners);
  if (!(area >= kSmallestZoneM2)) {
    figures.mistake(fmt::format("{:.3g} m2 is too small for a zone; are these metres?", area));
    return false;
  }
  const double outside = outline.empty() ? 0 : outside_m2(outline, corners);
  if (outside > 0) {
    figures.mistake(
        fmt::format("{:.2f} m2 of the zone lie outside the room's outline; move or "
                    "trim it",
                    outside));
  }
  return true;
}

/// Notes mistakes of one zone; gives it back when it can be compared with others.
std::optional<Sound> check_zone(const Spot& at, const proto::Zone& zone, int index,
                                const Polygon& outline, double ceiling_m) {
  const auto kind = check_word<ZoneKind>(at["kind"], zone.kind());
  check_word<Surface>(at["surface"], zone.surface());
  check_word_if_any<Clutter>(at["clutter"], zone.clutter());
  if (zone.has_cover()) check_range(at["cover"], zone.cover(), 0, 1);
  if (zone.has_clean_g_per_m2()) {
    check_range(at["clean_g_per_m2"], zone.clean_g_per_m2(), 0.1, 500, "g/m2");
  }
  const bool high =
      zone.has_height_m() && !check_range(at["height_m"], zone.height_m(), 0, ceiling_m, "m");
  const bool shaped = check_zone_corners(at, zone, outline);
  if (!shaped || high || !kind) return std::nullopt;
  const Polygon corners = corners_of(zone);
  return Sound{index, zone.id(), corners, bounds(corners), height_m_of(zone, *kind)};
}

void check_overlaps(const Spot& root, const std::vector<Sound>& zones) {
  size_t found = 0;
  for (size_t j = 0; j < zones.size(); ++j) {
    for (size_t i = 0; i < j; ++i) {
      const bool level = std::abs(zones[i].height_m - zones[j].height_m) <= kSameHeightM;
      if (!level || apart(zones[i].box, zones[j].box)) continue;
      const double overlap = overlap_m2(zones[i].corners, zones[j].corners);
      if (overlap <= kMostOverlapM2) continue;
      root.entry("zones", zones[j].index)
          .mistake(fmt::format("\"{}\" overlaps \"{}\" by {:.2f} m2 at the same height ({:.4g} m); "
                               "raise one of them or trim it",
                               zones[j].id, zones[i].id, overlap, zones[j].height_m));
      if (++found >= kMostMistakes) return;
    }
  }
}

}  // namespace

Polygon check_room(const Spot& root, const proto::ShopSheet& sheet) {
  const Spot at = root["room"];
  if (!sheet.has_room()) {
    at.mistake("missing: give the corners_m of the walls and the ceiling_m");
    return {};
  }
  const proto::Room& room = sheet.room();
  check_range(at["ceiling_m"], room.ceiling_m(), kLowestCeilingM, kHighestCeilingM, "m");
  if (!check_corners(at["corners_m"], room.corners_m())) return {};
  const Polygon outline = corners_of(room.corners_m());
  const double area = signed_area_m2(outline);
  if (!(area >= kSmallestRoomM2 && area <= kLargestRoomM2)) {
    at["corners_m"].mistake(
        fmt::format("a room of {:.4g} m2 is not a shop; {} to {} m2 are "
                    "believed. Are the corners in metres?",
                    area, kSmallestRoomM2, kLargestRoomM2));
    return {};
  }
  return outline;
}

void check_zones(const Spot& root, const proto::ShopSheet& sheet, const Polygon& outline) {
  const double ceiling = sheet.room().ceiling_m();
  const bool believed = ceiling >= kLowestCeilingM && ceiling <= kHighestCeilingM;
  std::vector<Sound> sound;
  check_ids(root, "zones", ids_of(sheet.zones()));
  for (int i = 0; i < sheet.zones_size(); ++i) {
    auto zone = check_zone(root.entry("zones", i), sheet.zones(i), i, outline,
                           believed ? ceiling : kHighestCeilingM);
    if (zone) sound.push_back(std::move(*zone));
  }
  check_overlaps(root, sound);
}

void check_place(const Spot& at, bool given, const proto::Place& place, const Polygon& outline) {
  if (!given) {
    at.mistake("missing: give the place on the plan, { x_m: ... y_m: ... }");
    return;
  }
  bool sound = check_coordinate(at["x_m"], place.x_m());
  sound &= check_coordinate(at["y_m"], place.y_m());
  if (!sound || outline.empty() || contains(outline, {place.x_m(), place.y_m()})) return;
  at.mistake(fmt::format("({}, {}) is outside the room's outline", place.x_m(), place.y_m()));
}

void check_place_if_any(const Spot& at, bool given, const proto::Place& place,
                        const Polygon& outline) {
  if (given) check_place(at, given, place, outline);
}

}  // namespace chipfall
