#pragma once

#include <string>
#include <vector>

#include "core/proto/wind_down.pb.h"
#include "preview/terminal/placing.h"
#include "preview/terminal/ramp.h"
#include "preview/terminal/text_flow.h"

/// Where everything of the printable list stands on its page; no ink. Page points, y down.
namespace chipfall {

enum class PrintKind { kText, kTickBox, kHeavyBox, kTriangle, kRule, kFrame };

/// One thing to print. A text is one line and its box that line's.
struct PrintMark {
  PrintKind kind = PrintKind::kText;
  Box box;
  std::string text;
  Face face;
  Ink ink = kBlack;
};

/// How much is said and how small, from the roomiest to the tightest.
struct SheetFit {
  double body_pt = 10;
  double why_pt = 9;  ///< 0: no whys
  int columns = 1;
  bool steps_in_line = false;
  bool lettered = false;  ///< cautions said more than once stand once, at the foot, by letter
};

/// What people read while they work is never smaller than this.
inline constexpr double kLeastBody_pt = 8.5;

struct SheetLayout {
  double width_pt = 0;
  double height_pt = 0;
  std::vector<PrintMark> marks;
  int shortened =
      0;             ///< duties of which only title, minutes and the letters of cautions stand here
  int left_out = 0;  ///< duties for which even the tightest fit has no place; the sheet says so
  SheetFit fit;
};

/// One page, A4 or US letter by the answer's units, portrait: head, duties by phase, foot. Takes
/// the roomiest fit that holds all duties. Where even the tightest does not, the lightest duties
/// lose all but a line that sends people to the phone for the rest, and only then their place;
/// safety duties stay whole to the last. Nothing overlaps and nothing leaves the page.
SheetLayout lay_out_sheet(const proto::WindDown& answer, const Measure& measure);

}  // namespace chipfall
