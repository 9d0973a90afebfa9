#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <vector>

/// Breaking text into lines, apart from any drawing library so that layouts can be tested.
namespace chipfall {

/// A cut and size of the one type family of the drawings.
struct Face {
  double size_pt = 9;
  bool bold = false;
  bool slanted = false;
};

/// Width in points of a line of text. Canvas::measure() asks the font.
using Measure = std::function<double(const std::string& text, const Face& face)>;

/// From one baseline to the next, and from a line's top to its baseline, in points. DejaVu needs
/// 1.16 times its size.
double line_pt(const Face& face);
double ascent_pt(const Face& face);

/// Fit to be drawn: bytes that are not UTF-8 become U+FFFD, and control characters spaces. Cairo
/// draws nothing any more after one wrong byte.
std::string clean_text(std::string_view text);

/// Lines no wider than `width_pt`, broken at spaces, and inside a word only where the word alone is
/// too wide. Never empty; a single character is kept whole however narrow the column.
std::vector<std::string> wrap(const std::string& text, const Face& face, double width_pt,
                              const Measure& measure);

/// The text, or as much of its beginning as fits with an ellipsis.
std::string shorten(const std::string& text, const Face& face, double width_pt,
                    const Measure& measure);

/// Widest of the lines.
double widest_pt(const std::vector<std::string>& lines, const Face& face, const Measure& measure);

}  // namespace chipfall
