#pragma once

#include "core/shop/geometry.h"

namespace chipfall {

/// The part of a simple polygon that a straight throw from `eye` can reach before a wall stops it:
/// every point p with the segment eye-p inside `outline`.
///
/// Star-shaped around `eye`, counter-clockwise. Empty when `eye` is outside; on a wall it is the
/// part in front of that wall. Between two neighbouring corner directions a single wall is nearest,
/// because walls do not cross: each such wedge gives one triangle. O(corners^2).
Polygon visible_from(const Polygon& outline, Point eye);

}  // namespace chipfall
