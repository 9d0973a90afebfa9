#pragma once

#include <functional>
#include <optional>
#include <string_view>
#include <vector>

#include "core/shop/geometry.h"

/// Finding room for labels on a page. Points and boxes are page points, y down, so that a box's
/// `low` is its upper left corner.
namespace chipfall {

/// A sheet as shops buy it, in points.
struct Paper {
  double short_pt = 595.28;  ///< A4
  double long_pt = 841.89;
};

/// US letter for a shop whose units are "US", else A4.
Paper paper_for(std::string_view units);

Box box_at(Point upper_left, double width, double height);
Box box_round(Point centre, double width, double height);
Box grown(const Box& box, double by);
Point centre(const Box& box);
bool holds(const Box& outer, const Box& inner);

/// The segment passes through the inside of the box, or lies in it.
bool crosses(const Box& box, Point from, Point to);

/// The box lies wholly in the polygon; or shares any of its area.
bool lies_in(const Polygon& polygon, const Box& box);
bool meets(const Polygon& polygon, const Box& box);

/// Boxes that are taken.
class Crowd {
 public:
  void add(const Box& box) { taken_.push_back(box); }
  bool free(const Box& box) const;
  bool free(Point from, Point to) const;  ///< for a line

 private:
  std::vector<Box> taken_;
};

/// Where a label may stand, and how badly; no value where it may not.
using Cost = std::function<std::optional<double>(const Box& box)>;

/// The cheapest of the boxes; nothing where none is allowed. The first of equals.
std::optional<Box> cheapest(const std::vector<Box>& candidates, const Cost& cost);

/// Boxes of this size on a grid over `area`; none where it is too small. Steps of kGrid_pt find the
/// strips of floor between benches; kMostSteps bounds the search over a large room.
std::vector<Box> spots_in(const Box& area, double width, double height);
inline constexpr double kGrid_pt = 4;
inline constexpr int kMostSteps = 60;

/// Boxes of this size round a point, nearest rings first, up to `reach` away.
std::vector<Box> spots_round(Point at, double width, double height, double clear, double reach);

}  // namespace chipfall
