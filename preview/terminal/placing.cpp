#include "preview/terminal/placing.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace chipfall {
namespace {

constexpr int kDirections = 16;

Polygon corners_of(const Box& box) {
  return rectangle(box.low.x, box.low.y, box.high.x, box.high.y);
}

/// Some edge passes through the inside of the box.
bool edge_crosses(const Polygon& polygon, const Box& box) {
  for (size_t i = 0; i < polygon.size(); ++i) {
    if (crosses(box, polygon[i], polygon[(i + 1) % polygon.size()])) return true;
  }
  return false;
}

}  // namespace

Paper paper_for(std::string_view units) { return units == "US" ? Paper{612, 792} : Paper{}; }

Box box_at(Point upper_left, double width, double height) {
  return {upper_left, {upper_left.x + width, upper_left.y + height}};
}

Box box_round(Point centre, double width, double height) {
  return box_at({centre.x - width / 2, centre.y - height / 2}, width, height);
}

Box grown(const Box& box, double by) {
  return {{box.low.x - by, box.low.y - by}, {box.high.x + by, box.high.y + by}};
}

Point centre(const Box& box) { return 0.5 * (box.low + box.high); }

bool holds(const Box& outer, const Box& inner) {
  return outer.low.x <= inner.low.x && outer.low.y <= inner.low.y && inner.high.x <= outer.high.x &&
         inner.high.y <= outer.high.y;
}

bool crosses(const Box& box, Point from, Point to) {
  // Liang-Barsky: the share of the segment that lies between both pairs of sides.
  double enter = 0;
  double leave = 1;
  const auto between = [&](double start, double way, double low, double high) {
    if (way == 0) return low < start && start < high;
    const double a = (low - start) / way;
    const double b = (high - start) / way;
    enter = std::max(enter, std::min(a, b));
    leave = std::min(leave, std::max(a, b));
    return enter < leave;
  };
  return between(from.x, to.x - from.x, box.low.x, box.high.x) &&
         between(from.y, to.y - from.y, box.low.y, box.high.y);
}

bool lies_in(const Polygon& polygon, const Box& box) {
  if (polygon.size() < 3 || edge_crosses(polygon, box)) return false;
  return std::ranges::all_of(corners_of(box),
                             [&](Point corner) { return contains(polygon, corner); });
}

bool meets(const Polygon& polygon, const Box& box) {
  if (polygon.size() < 3 || apart(bounds(polygon), box)) return false;
  return edge_crosses(polygon, box) || contains(polygon, centre(box));
}

bool Crowd::free(const Box& box) const {
  return std::ranges::all_of(taken_, [&](const Box& other) { return apart(other, box); });
}

bool Crowd::free(Point from, Point to) const {
  return std::ranges::none_of(taken_, [&](const Box& other) { return crosses(other, from, to); });
}

std::optional<Box> cheapest(const std::vector<Box>& candidates, const Cost& cost) {
  std::optional<Box> best;
  double least = 0;
  for (const Box& box : candidates) {
    const std::optional<double> here = cost(box);
    if (!here || (best && *here >= least)) continue;
    best = box;
    least = *here;
  }
  return best;
}

std::vector<Box> spots_in(const Box& area, double width, double height) {
  std::vector<Box> spots;
  const double spare_x = area.high.x - area.low.x - width;
  const double spare_y = area.high.y - area.low.y - height;
  if (spare_x < 0 || spare_y < 0) return spots;
  const auto steps = [](double spare) {
    return std::clamp(static_cast<int>(spare / kGrid_pt), 2, kMostSteps);
  };
  const int rows = steps(spare_y);
  const int columns = steps(spare_x);
  for (int row = 0; row <= rows; ++row) {
    for (int column = 0; column <= columns; ++column) {
      spots.push_back(
          box_at({area.low.x + spare_x * column / columns, area.low.y + spare_y * row / rows},
                 width, height));
    }
  }
  return spots;
}

std::vector<Box> spots_round(Point at, double width, double height, double clear, double reach) {
  std::vector<Box> spots;
  for (double away = clear; away <= reach; away = 1.3 * away + 2) {
    for (int i = 0; i < kDirections; ++i) {
      const double angle = 2 * std::numbers::pi * i / kDirections;
      const Point way{std::cos(angle), std::sin(angle)};
      // Pushed out until its nearest side, not its middle, is `away` from the point.
      const Point middle{at.x + way.x * (away + width / 2), at.y + way.y * (away + height / 2)};
      spots.push_back(box_round(middle, width, height));
    }
  }
  return spots;
}

}  // namespace chipfall
