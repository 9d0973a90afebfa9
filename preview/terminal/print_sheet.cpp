#include "preview/terminal/print_sheet.h"

#include "preview/terminal/canvas.h"
#include "preview/terminal/sheet_layout.h"

namespace chipfall {
namespace {

void draw_triangle(Canvas& canvas, const Box& box) {
  const double middle = centre(box).x;
  const double height = box.high.y - box.low.y;
  canvas.outline({{middle, box.low.y}, box.high, {box.low.x, box.high.y}}, {kBlack, 1.1, {}});
  canvas.line({{middle, box.low.y + 0.34 * height}, {middle, box.low.y + 0.68 * height}},
              {kBlack, 1.1, {}});
  canvas.disc({middle, box.low.y + 0.84 * height}, 0.65, kBlack);
}

void draw_mark(Canvas& canvas, const PrintMark& mark) {
  const Polygon corners =
      rectangle(mark.box.low.x, mark.box.low.y, mark.box.high.x, mark.box.high.y);
  switch (mark.kind) {
    case PrintKind::kText:
      canvas.text({mark.box.low.x, mark.box.low.y + ascent_pt(mark.face)}, mark.text, mark.face,
                  mark.ink);
      return;
    case PrintKind::kTickBox:
      canvas.outline(corners, {kBlack, 1, {}});
      return;
    case PrintKind::kHeavyBox:
      canvas.outline(corners, {kBlack, 2.6, {}});
      return;
    case PrintKind::kTriangle:
      draw_triangle(canvas, mark.box);
      return;
    case PrintKind::kRule:
      canvas.line({mark.box.low, mark.box.high}, {kBlack, 0.7, {}});
      return;
    case PrintKind::kFrame:
      canvas.outline(corners, {kBlack, 1.4, {}});
      return;
  }
}

/// What there is to do: neither what was done before nor what is passed on.
proto::WindDown open_part(const proto::WindDown& answer) {
  proto::WindDown open = answer;
  open.clear_duties();
  for (const proto::Duty& duty : answer.duties()) {
    if (!duty.done() && !duty.passed_on()) *open.add_duties() = duty;
  }
  return open;
}

}  // namespace

Result<void> draw_sheet(const proto::WindDown& answer, const std::string& path) {
  const Paper paper = paper_for(answer.units());
  Result<Canvas> canvas =
      Canvas::open(path, paper.short_pt, paper.long_pt, "Wind-down: " + answer.session());
  if (!canvas) return tl::unexpected(canvas.error());
  const SheetLayout sheet = lay_out_sheet(open_part(answer), canvas->measure());
  for (const PrintMark& mark : sheet.marks) draw_mark(*canvas, mark);
  return canvas->finish();
}

}  // namespace chipfall
