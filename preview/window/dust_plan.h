#pragma once

#include <string>
#include <vector>

#include "core/proto/wind_down.pb.h"
#include "core/shop/geometry.h"
#include "preview/window/pen.h"

/// The room in plan, with what lies where, drawn live from the door's map.
namespace chipfall::window {

struct PlanLook {
  std::vector<std::string> numbered;  ///< zones that carry their number in the list below, in order
  std::string chosen;                 ///< zone with a strong edge; may be empty
  float air_share = 0;                ///< of its beginning, what is left in the air: 0 to 1
};

/// Draws into `at`; shapes keep their proportions. What cannot be drawn is left out.
void draw_plan(Pen& pen, const proto::DustMap& map, const Rect& at, const PlanLook& look,
               const std::string& target);

/// How high the plan is at this width.
float plan_height(const proto::DustMap& map, float width);

/// The uppermost zone there; "" is the open floor or outside.
std::string zone_under(const proto::DustMap& map, const Rect& at, float x, float y);

/// Triangles of a simple polygon, three corners each: what the drawing needs where it is not
/// convex.
std::vector<Point> triangles_of(const Polygon& polygon);

}  // namespace chipfall::window
