#pragma once

#include "core/shop/shop.h"

/// How the uncaptured part of one class spreads over the plan.
namespace chipfall {

/// A planar normal placed in the room: centre, axis along the throw, standard deviations.
struct Throw {
  Point centre;
  double heading_rad = 0;
  double along_m = 1;
  double across_m = 1;
};

/// The kernel of a machine's kind, moved to its place and turned to its heading.
Throw placed(const ThrowKernel& kernel, Point at, double heading_rad);

/// The plan seen in the throw's own frame, in standard deviations: the throw becomes the standard
/// normal, polygons stay polygons and keep their orientation.
Polygon whitened(const Throw& thrown, const Polygon& polygon);

/// Mass of the standard planar normal on a polygon, 0 to 1; negative for a clockwise ring, so that
/// sums over the rings of a Region come out right.
///
/// Green's theorem with the field (1 - exp(-r^2/2))/r^2 (-y, x)/(2 pi), which is smooth at the
/// origin, turns the area integral into one along the edges; there it is done by Gauss-Legendre
/// quadrature. Beyond kReach_sd the field is that of the bare angle and integrates in closed form.
/// Absolute error below 1e-13 for polygons of up to 100 edges. Source: the identity follows from
/// div((1 - exp(-r^2/2))/r^2 (x, y)) = exp(-r^2/2); tests/unit/throw_test.cpp holds it to splits,
/// grids and closed forms.
double normal_mass(const Polygon& whitened_polygon);

/// Where the planar normal has 2e-16 of its mass left.
inline constexpr double kReach_sd = 8.5;

/// Radius around the machine that holds `share` of the mass thrown in class proportions
/// `grams`, walls left out of account; 0 when nothing is thrown.
double radius_holding_m(const std::array<ThrowKernel, kChipClasses>& thrown, const PerClass& grams,
                        double share);

}  // namespace chipfall
