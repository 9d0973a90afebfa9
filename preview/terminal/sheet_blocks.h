#pragma once

#include <string>
#include <vector>

#include "preview/terminal/sheet_layout.h"
#include "preview/terminal/sheet_words.h"

/// The pieces of the printable list, each measured and set on its own.
namespace chipfall {

/// Marks that stay together, from their own upper left corner.
struct Block {
  std::vector<PrintMark> marks;
  double height = 0;

  void line(double x, const std::string& text, const Face& face, double width, Ink ink = kBlack) {
    marks.push_back({PrintKind::kText, box_at({x, height}, width, line_pt(face)), text, face, ink});
    height += line_pt(face);
  }
  void shape(PrintKind kind, const Box& box) { marks.push_back({kind, box, {}, {}, kBlack}); }
};

/// What all blocks of one page go by.
struct Setting {
  const proto::WindDown& answer;
  const Measure& measure;
  SheetFit fit;
  double width = 0;  ///< of a column
  LetteredCautions cautions;
};

inline constexpr double kBelowDuty_pt = 2.5;  ///< part of a duty's height, white

/// Everything that is said of one duty; or its title in bold and what stands right of it, with
/// "phone" where the paper leaves a caution out.
Block duty_block(const Setting& set, int index);
Block brief_block(const Setting& set, int index);

Block heading_block(const Setting& set, const std::string& phase);

/// Shop, session, people, and how long; the time to stop cutting first and biggest.
Block head_block(const Setting& set);

/// Cautions for everyone in a frame, and lines to write on.
Block foot_block(const Setting& set);

}  // namespace chipfall
