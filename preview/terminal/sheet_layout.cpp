#include "preview/terminal/sheet_layout.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <optional>
#include <utility>

#include <fmt/format.h>

#include "preview/terminal/sheet_blocks.h"

namespace chipfall {
namespace {

constexpr double kSide_pt = 34;
constexpr double kTop_pt = 46;  ///< below the clip of a clipboard
constexpr double kBottom_pt = 28;
constexpr double kGutter_pt = 16;
/// More than one page holds, even of one-line duties in two columns.
constexpr int kMostDuties = 150;

constexpr std::array<SheetFit, 7> kFits{{
    {10.5, 9.5, 1, false, false},
    {9.5, 8.5, 1, true, false},
    {9, 8, 1, true, false},
    {9, 0, 1, true, false},
    {9, 0, 2, true, false},
    {8.5, 0, 2, true, false},
    {8.5, 0, 2, true, true},
}};

void stamp(const Block& block, Point at, std::vector<PrintMark>& marks) {
  for (PrintMark mark : block.marks) {
    mark.box = {mark.box.low + at, mark.box.high + at};
    marks.push_back(std::move(mark));
  }
}

/// What stands between head and foot, and the columns that it goes into.
struct Body {
  std::vector<const Block*> duties;  ///< null: left out
  std::vector<Block> headings;       ///< of each duty's phase
  std::vector<std::string> phases;
  int columns = 1;
  double step = 0;  ///< from one column to the next
  double height = 0;
};

/// Fills the columns in order; false where the duties do not fit. A heading stays with the first
/// duty under it. `marks` may be null.
bool pack(const Body& body, Point corner, std::vector<PrintMark>* marks) {
  int column = 0;
  double y = 0;
  const std::string* phase = nullptr;
  for (size_t i = 0; i < body.duties.size(); ++i) {
    if (body.duties[i] == nullptr) continue;
    const bool headed = phase == nullptr || *phase != body.phases[i];
    const double height =
        body.duties[i]->height - kBelowDuty_pt + (headed ? body.headings[i].height : 0);
    if (y + height > body.height) {
      if (++column == body.columns || height > body.height) return false;
      y = 0;
    }
    const double x = corner.x + column * body.step;
    if (headed) {
      if (marks != nullptr) stamp(body.headings[i], {x, corner.y + y}, *marks);
      y += body.headings[i].height;
      phase = &body.phases[i];
    }
    if (marks != nullptr) stamp(*body.duties[i], {x, corner.y + y}, *marks);
    y += body.duties[i]->height;
  }
  return true;
}

/// Opening a bin or a filter without its caution is how people breathe dust.
bool stays_whole(const proto::Duty& duty) {
  return duty.safety() || duty.kind() == "bin" || duty.kind() == "filter";
}

/// Safety first, then weight: in this order duties keep their place on the page.
std::vector<int> dearest_first(const proto::WindDown& answer) {
  std::vector<int> order(answer.duties_size());
  std::iota(order.begin(), order.end(), 0);
  const auto worth = [&](int i) {
    const proto::Duty& duty = answer.duties(i);
    const double weight = std::isfinite(duty.weight()) ? duty.weight() : 0;
    return std::pair(duty.safety(), weight);
  };
  std::ranges::stable_sort(order, std::greater<>(), worth);
  return order;
}

/// Gives way until the body fits: lightest duties first, to a line each, then altogether; then
/// gives back what has room after all, cautions before other words.
void give_way(Body& body, const std::vector<Block>& whole, const std::vector<Block>& brief,
              const std::vector<int>& dearest, const Setting& set) {
  const auto fits = [&] { return pack(body, {}, nullptr); };
  for (size_t i = dearest.size(); i-- > 0 && !fits();) {
    if (!stays_whole(set.answer.duties(dearest[i]))) body.duties[dearest[i]] = &brief[dearest[i]];
  }
  for (size_t i = dearest.size(); i-- > 0 && !fits();) body.duties[dearest[i]] = nullptr;
  const auto try_on = [&](int d, const Block& block) {
    const Block* before = std::exchange(body.duties[d], &block);
    if (!fits()) body.duties[d] = before;
  };
  for (int d : dearest) {
    const bool out = body.duties[d] == nullptr;
    if (out) try_on(d, stays_whole(set.answer.duties(d)) ? whole[d] : brief[d]);
  }
  for (bool cautious : {true, false}) {
    for (int d : dearest) {
      const bool can_grow = body.duties[d] == &brief[d];
      if (can_grow && set.cautions.own[d].empty() != cautious) try_on(d, whole[d]);
    }
  }
}

/// The page apart from its duties.
struct Frame {
  SheetLayout out;
  Setting set;
  Block head;
  Block foot;
  Body body;
};

Frame frame_for(const proto::WindDown& answer, const Measure& measure, const SheetFit& fit) {
  Frame frame{{}, {answer, measure, fit, 0, {}}, {}, {}, {}};
  frame.out.width_pt = paper_for(answer.units()).short_pt;
  frame.out.height_pt = paper_for(answer.units()).long_pt;
  frame.out.fit = fit;
  const double width = frame.out.width_pt - 2 * kSide_pt;
  frame.set.width = width;
  frame.set.cautions = letter_cautions(answer);
  frame.head = head_block(frame.set);
  frame.foot = foot_block(frame.set);
  frame.set.width = (width - (fit.columns - 1) * kGutter_pt) / fit.columns;
  frame.body.columns = fit.columns;
  frame.body.step = frame.set.width + kGutter_pt;
  frame.body.height =
      frame.out.height_pt - kTop_pt - kBottom_pt - frame.head.height - frame.foot.height - 6;
  for (const proto::Duty& duty : answer.duties()) {
    frame.body.phases.push_back(duty.phase());
    frame.body.headings.push_back(heading_block(frame.set, duty.phase()));
  }
  return frame;
}

SheetLayout stamped(Frame& frame) {
  SheetLayout& out = frame.out;
  const double foot_top = out.height_pt - kBottom_pt - frame.foot.height;
  stamp(frame.head, {kSide_pt, kTop_pt}, out.marks);
  pack(frame.body, {kSide_pt, kTop_pt + frame.head.height}, &out.marks);
  stamp(frame.foot, {kSide_pt, foot_top}, out.marks);
  if (out.left_out > 0) {
    const Face face{frame.set.fit.body_pt, true};
    const std::string words = fmt::format("and {} more: see the phone", out.left_out);
    Block more;
    more.line(0, words, face, frame.set.measure(words, face));
    stamp(more, {kSide_pt, foot_top - 6 - more.height}, out.marks);
  }
  return out;
}

/// Nothing where not all duties have room.
std::optional<SheetLayout> whole_sheet(const proto::WindDown& answer, const Measure& measure,
                                       const SheetFit& fit) {
  Frame frame = frame_for(answer, measure, fit);
  std::vector<Block> whole;
  for (int i = 0; i < answer.duties_size(); ++i) whole.push_back(duty_block(frame.set, i));
  for (const Block& block : whole) frame.body.duties.push_back(&block);
  if (!pack(frame.body, {}, nullptr)) return std::nullopt;
  return stamped(frame);
}

SheetLayout crowded_sheet(const proto::WindDown& answer, const Measure& measure,
                          const SheetFit& fit) {
  Frame frame = frame_for(answer, measure, fit);
  frame.body.height -= line_pt({fit.body_pt, true});
  std::vector<int> dearest = dearest_first(answer);
  dearest.resize(std::min<size_t>(dearest.size(), kMostDuties));
  std::vector<Block> whole(answer.duties_size());
  std::vector<Block> brief(answer.duties_size());
  frame.body.duties.assign(answer.duties_size(), nullptr);
  for (int d : dearest) {
    whole[d] = duty_block(frame.set, d);
    brief[d] = brief_block(frame.set, d);
    frame.body.duties[d] = &whole[d];
  }
  give_way(frame.body, whole, brief, dearest, frame.set);
  for (int i = 0; i < answer.duties_size(); ++i) {
    frame.out.left_out += frame.body.duties[i] == nullptr ? 1 : 0;
    frame.out.shortened += frame.body.duties[i] == &brief[i] ? 1 : 0;
  }
  return stamped(frame);
}

}  // namespace

SheetLayout lay_out_sheet(const proto::WindDown& answer, const Measure& measure) {
  for (const SheetFit& fit : kFits) {
    if (answer.duties_size() > kMostDuties) break;
    if (auto sheet = whole_sheet(answer, measure, fit)) return *std::move(sheet);
  }
  return crowded_sheet(answer, measure, kFits.back());
}

}  // namespace chipfall
