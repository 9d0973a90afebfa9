#pragma once

#include <cmath>
#include <ostream>

/// Figures as a source prints them, so that a check says in one line how exact the source is.
///
/// Beside each check stands the source and how its figure was obtained: (read) in the source or a
/// reprint, (quoted) in a text that quotes it, [memory] not read, (computed) from the formula.
namespace chipfall::test {

struct Published {
  double figure = 0;
  double tolerance = 0;

  friend bool operator==(double value, const Published& published) {
    return std::abs(value - published.figure) <= published.tolerance;
  }
  friend std::ostream& operator<<(std::ostream& out, const Published& published) {
    return out << published.figure << " +- " << published.tolerance;
  }
};

/// Equal to what rounds to the printed figure with so many decimals. A value on the edge counts:
/// .865 is printed .87, but lies a little below in binary.
inline Published printed(double figure, int decimals) {
  return {figure, 0.5 * std::pow(10.0, -decimals) + 1e-12};
}

/// Equal but for this share of the figure.
inline Published within(double share, double figure) { return {figure, share * std::abs(figure)}; }

}  // namespace chipfall::test
