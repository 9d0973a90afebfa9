#pragma once

#include <memory>
#include <string>
#include <vector>

#include "core/shop/error.h"
#include "core/shop/geometry.h"
#include "preview/terminal/ramp.h"
#include "preview/terminal/text_flow.h"

struct _cairo;
struct _cairo_surface;

/// One page of ink: the little of Cairo that the drawings need.
namespace chipfall {

/// How a line is drawn; `dashes_pt` alternates ink and gap, empty for a whole line.
struct Pen {
  Ink ink = kBlack;
  double width_pt = 1;
  std::vector<double> dashes_pt;
};

/// A page that becomes a file only when all of it has been drawn.
///
/// Lengths are points (1/72 in), x to the right and y down from the upper left corner. Drawing
/// collects in memory; finish() writes a file of another name beside the target and renames it, so
/// that a full disk leaves the old picture or none, never half of one. Not for several threads.
class Canvas {
 public:
  /// The ending of `path` chooses the format: .svg, .png (144 pixels to the inch) or .pdf (one
  /// page). The title goes into a PDF. Errors: another ending; a page that Cairo refuses.
  static Result<Canvas> open(const std::string& path, double width_pt, double height_pt,
                             const std::string& title);

  /// Writes the file. Errors: no such folder, no leave to write there, no room left.
  Result<void> finish();

  Measure measure() const;  ///< valid as long as the canvas

  /// One line of text; y is its baseline.
  void text(Point at, const std::string& text, const Face& face, Ink ink = kBlack);

  void fill(const Polygon& corners, Ink ink);
  void outline(const Polygon& corners, const Pen& pen);
  void line(const Polygon& points, const Pen& pen);  ///< open
  void disc(Point centre, double radius_pt, Ink ink);
  void circle(Point centre, double radius_pt, const Pen& pen);
  /// Slanted parallel lines inside the corners.
  void hatch(const Polygon& corners, double spacing_pt, const Pen& pen);

  /// Until unclip(), only what lies inside the corners is drawn.
  void clip(const Polygon& corners);
  void unclip();

 private:
  struct Drop {
    void operator()(_cairo* context) const;
    void operator()(_cairo_surface* surface) const;
  };

  Canvas() = default;
  void trace(const Polygon& points, bool closed);
  void stroke(const Pen& pen);

  std::string path_;
  bool pixels_ = false;
  // Declared in this order: the surface writes its last bytes while it is dropped.
  std::unique_ptr<std::string> bytes_;
  std::unique_ptr<_cairo_surface, Drop> surface_;
  std::unique_ptr<_cairo, Drop> context_;
};

}  // namespace chipfall
