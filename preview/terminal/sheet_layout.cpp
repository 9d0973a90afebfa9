#include "preview/terminal/sheet_layout.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <optional>

#include <fmt/format.h>

#include "core/duty/say.h"
#include "preview/terminal/sheet_words.h"

namespace chipfall {
namespace {

constexpr double kSide_pt = 34;
constexpr double kTop_pt = 46;  ///< below the clip of a clipboard
constexpr double kBottom_pt = 28;
constexpr double kGutter_pt = 16;
constexpr double kIndent_pt = 29;  ///< tick box and number
constexpr double kTick_pt = 10;
constexpr double kTriangle_pt = 8;
constexpr double kBelowDuty_pt = 2.5;
constexpr double kWriting_pt = 18;  ///< between two lines to write on
constexpr int kWritingLines = 2;
constexpr int kMostBoxLines = 30;
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

/// Everything that a fit decides, measured once.
struct Setting {
  const proto::WindDown& answer;
  const Measure& measure;
  SheetFit fit;
  double width = 0;  ///< of a column
  LetteredCautions cautions;
};

void add_text(Block& block, const Setting& set, double x, const std::string& text,
              const Face& face, Ink ink = kBlack) {
  if (text.empty()) return;
  for (const std::string& line : wrap(text, face, set.width - x, set.measure)) {
    block.line(x, line, face, set.measure(line, face), ink);
  }
}

void add_steps(Block& block, const Setting& set, const proto::Duty& duty) {
  const Face face{set.fit.body_pt};
  std::string together;
  for (const std::string& step : duty.steps()) {
    // A space that does not break keeps the bullet with its step.
    const std::string bullet = "•\u00A0" + step;
    if (set.fit.steps_in_line) {
      together += (together.empty() ? "" : "  ") + bullet;
    } else {
      add_text(block, set, kIndent_pt, bullet, face);
    }
  }
  add_text(block, set, kIndent_pt, together, face);
}

void add_caution(Block& block, const Setting& set, const std::string& caution) {
  if (caution.empty()) return;
  const Face face{std::max(kLeastBody_pt, set.fit.body_pt - 0.5)};
  const double top = block.height + (line_pt(face) - kTriangle_pt) / 2;
  block.shape(PrintKind::kTriangle, box_at({kIndent_pt, top}, kTriangle_pt, kTriangle_pt));
  add_text(block, set, kIndent_pt + kTriangle_pt + 4, caution, face);
}

/// Right of a duty's title: the letters of its cautions and its minutes. Returns their width.
double add_right(Block& block, const Setting& set, int index) {
  const Face face{set.fit.body_pt};
  const auto text = [&](double right, const std::string& words) {
    const double width = set.measure(words, face);
    block.marks.push_back({PrintKind::kText, box_at({right - width, 0}, width, line_pt(face)),
                           words, face, kBlack});
    return right - width;
  };
  const double minutes = set.answer.duties(index).minutes();
  double left = set.width;
  if (std::isfinite(minutes)) left = text(left, say_minutes(std::clamp(minutes, 0.0, 9999.0)));
  if (set.fit.lettered && !set.cautions.letters[index].empty()) {
    left = text(left - 7, set.cautions.letters[index]) - kTriangle_pt - 3;
    const double top = (line_pt(face) - kTriangle_pt) / 2;
    block.shape(PrintKind::kTriangle, box_at({left, top}, kTriangle_pt, kTriangle_pt));
  }
  return set.width - left;
}

void add_number(Block& block, const Setting& set, int number) {
  const Face face{set.fit.body_pt};
  const std::string words = fmt::format("{}.", number);
  const double width = set.measure(words, face);
  const double left = std::max(kTick_pt + 2, kIndent_pt - 4 - width);
  block.marks.push_back(
      {PrintKind::kText, box_at({left, 0}, width, line_pt(face)), words, face, kBlack});
}

Block duty_block(const Setting& set, int index) {
  const proto::Duty& duty = set.answer.duties(index);
  Block block;
  block.shape(duty.safety() ? PrintKind::kHeavyBox : PrintKind::kTickBox,
              box_at({1, 1}, kTick_pt, kTick_pt));
  add_number(block, set, duty.order() > 0 ? duty.order() : index + 1);
  Setting narrower = set;
  narrower.width -= add_right(block, set, index) + 6;
  add_text(block, narrower, kIndent_pt, duty.title(), {set.fit.body_pt, true});
  add_text(block, set, kIndent_pt, where_and_with(duty), {set.fit.body_pt});
  if (set.fit.why_pt > 0) {
    add_text(block, set, kIndent_pt, duty.why(), {set.fit.why_pt, false, true}, kSoft);
  }
  add_steps(block, set, duty);
  add_caution(block, set, set.fit.lettered ? set.cautions.own[index] : duty.caution());
  block.height = std::max(block.height, kTick_pt + 2) + kBelowDuty_pt;
  return block;
}

Block heading_block(const Setting& set, const std::string& phase) {
  Block block;
  block.height = 3;
  add_text(block, set, 0, phase_heading(phase), {set.fit.body_pt + 1.5, true});
  block.shape(PrintKind::kRule, box_at({0, block.height}, set.width, 0));
  block.height += 4;
  return block;
}

/// Shop, session, people, and how long; the time to stop cutting first and biggest.
Block head_block(const proto::WindDown& answer, double width, const Measure& measure) {
  const std::string& down = answer.finish().tools_down_by();
  Block clock;
  double left = 0;
  if (!down.empty()) {
    const Face words{13, true};
    const Face figures{44, true};
    const std::string day = answer.finish().day_before() ? "Tools down, day before, by"
                                                         : "Tools down by";
    const std::string time = shorten(down, figures, 0.4 * width, measure);
    clock.line(0, day, words, measure(day, words));
    clock.line(0, time, figures, measure(time, figures));
    left = std::max(measure(day, words), measure(time, figures)) + 26;
  }
  Block block;
  Setting set{answer, measure, kFits[0], width, {}};
  const auto add = [&](const std::string& text, const Face& face, size_t most_lines) {
    std::vector<std::string> lines = wrap(text, face, width - left, measure);
    if (lines.size() > most_lines) {
      lines.resize(most_lines);
      lines.back() = shorten(lines.back() + "…", face, width - left, measure);
    }
    for (const std::string& line : lines) block.line(left, line, face, measure(line, face));
  };
  add(answer.shop().empty() ? "Woodshop" : answer.shop(), {down.empty() ? 20.0 : 15.0, true}, 2);
  std::string session = answer.session();
  if (answer.people() > 0) {
    session += (session.empty() ? "" : ", ") + people_in_words(answer.people());
  }
  if (!session.empty()) add(session, {11}, 2);
  std::string time = minutes_in_words(answer);
  if (const std::string& leave = answer.finish().leave_at(); !leave.empty()) {
    time += (time.empty() ? "Out by " : " Out by ") + leave + ".";
  }
  if (!time.empty()) add(time, {11}, 2);
  const bool heavy =
      std::ranges::any_of(answer.duties(), [](const proto::Duty& duty) { return duty.safety(); });
  add(std::string("Thank you for cleaning up. Tick what is done; what you cannot do, pass on below.") +
          (heavy ? " Heavy box: please do not skip." : ""),
      {9.5}, 2);
  block.marks.insert(block.marks.end(), clock.marks.begin(), clock.marks.end());
  block.height = std::max(block.height, clock.height) + 8;
  return block;
}

/// General cautions and the lettered ones in a frame; nothing when there are none.
Block caution_block(const Setting& set) {
  const Face face{kLeastBody_pt};
  std::vector<std::string> words;
  for (size_t i = 0; set.fit.lettered && i < set.cautions.shared.size(); ++i) {
    words.push_back(fmt::format("{}\u00A0\u00A0{}", static_cast<char>('A' + static_cast<int>(i)),
                                set.cautions.shared[i]));
  }
  for (const std::string& caution : set.answer.cautions()) words.push_back(caution);
  Block block;
  if (words.empty()) return block;
  constexpr double kPad = 5;
  const double left = kPad + kTriangle_pt + 7;
  block.height = kPad;
  int lines = 0;
  for (const std::string& caution : words) {
    for (const std::string& line : wrap(caution, face, set.width - left - kPad, set.measure)) {
      if (++lines > kMostBoxLines) break;
      block.line(left, line, face, set.measure(line, face));
    }
  }
  block.height += kPad - 1;
  block.shape(PrintKind::kTriangle, box_at({kPad, kPad + 1}, kTriangle_pt + 2, kTriangle_pt + 2));
  block.shape(PrintKind::kFrame, box_at({0, 0}, set.width, block.height));
  block.height += 6;
  return block;
}

Block foot_block(const Setting& set) {
  Block block = caution_block(set);
  const Face face{9, true};
  const std::string label = "Passed on (what, why):";
  block.height += kWriting_pt - line_pt(face);
  const double after = set.measure(label, face) + 6;
  block.line(0, label, face, after - 6);
  block.shape(PrintKind::kRule, box_at({after, block.height}, set.width - after, 0));
  for (int i = 1; i < kWritingLines; ++i) {
    block.height += kWriting_pt;
    block.shape(PrintKind::kRule, box_at({0, block.height}, set.width, 0));
  }
  return block;
}

void stamp(const Block& block, Point at, std::vector<PrintMark>& marks) {
  for (PrintMark mark : block.marks) {
    mark.box = {mark.box.low + at, mark.box.high + at};
    marks.push_back(std::move(mark));
  }
}

/// The body: its blocks, and the columns that they go into.
struct Body {
  std::vector<Block> duties;
  std::vector<Block> headings;  ///< of each duty's phase
  std::vector<std::string> phases;
  double height = 0;
};

/// Fills the columns with the duties of `shown`, in order; false where they do not fit. A heading
/// stays with the first duty under it.
bool pack(const Body& body, const std::vector<bool>& shown, const SheetFit& fit, double step,
          Point corner, std::vector<PrintMark>* marks) {
  int column = 0;
  double y = 0;
  const std::string* phase = nullptr;
  for (size_t i = 0; i < body.duties.size(); ++i) {
    if (!shown[i]) continue;
    const bool headed = phase == nullptr || *phase != body.phases[i];
    const double height =
        body.duties[i].height - kBelowDuty_pt + (headed ? body.headings[i].height : 0);
    if (y + height > body.height) {
      if (++column == fit.columns || height > body.height) return false;
      y = 0;
    }
    const double x = corner.x + column * step;
    if (headed) {
      if (marks != nullptr) stamp(body.headings[i], {x, corner.y + y}, *marks);
      y += body.headings[i].height;
      phase = &body.phases[i];
    }
    if (marks != nullptr) stamp(body.duties[i], {x, corner.y + y}, *marks);
    y += body.duties[i].height;
  }
  return true;
}

/// Safety first, then weight: in this order duties keep their place on the page.
std::vector<int> dearest_first(const proto::WindDown& answer) {
  std::vector<int> order(answer.duties_size());
  std::iota(order.begin(), order.end(), 0);
  std::ranges::stable_sort(order, [&](int a, int b) {
    const proto::Duty& one = answer.duties(a);
    const proto::Duty& other = answer.duties(b);
    if (one.safety() != other.safety()) return one.safety();
    return std::isfinite(one.weight()) && std::isfinite(other.weight())
               ? one.weight() > other.weight()
               : std::isfinite(one.weight()) && !std::isfinite(other.weight());
  });
  return order;
}

/// The sheet in one fit. Without `drop`, nothing where not all duties have room; with it, leaves
/// the lightest out until the rest has.
std::optional<SheetLayout> try_fit(const proto::WindDown& answer, const Measure& measure,
                                   const SheetFit& fit, bool drop) {
  SheetLayout out;
  const bool us = answer.units() == "US";
  out.width_pt = us ? 612 : 595.28;
  out.height_pt = us ? 792 : 841.89;
  out.fit = fit;
  const double width = out.width_pt - 2 * kSide_pt;
  Setting set{answer, measure, fit, width, {}};
  if (fit.lettered) set.cautions = letter_cautions(answer);
  const Block head = head_block(answer, width, measure);
  const Block foot = foot_block(set);
  const Face more_face{fit.body_pt, true};
  const Point corner{kSide_pt, kTop_pt + head.height};
  const double foot_top = out.height_pt - kBottom_pt - foot.height;

  Body body;
  body.height = foot_top - 6 - corner.y - (drop ? line_pt(more_face) : 0);
  set.width = (width - (fit.columns - 1) * kGutter_pt) / fit.columns;
  const std::vector<int> dearest = dearest_first(answer);
  std::vector<bool> shown(answer.duties_size(), true);
  size_t kept = std::min<size_t>(dearest.size(), kMostDuties);
  for (size_t i = kept; i < dearest.size(); ++i) shown[dearest[i]] = false;
  for (int i = 0; i < answer.duties_size(); ++i) {
    body.phases.push_back(answer.duties(i).phase());
    body.duties.push_back(shown[i] ? duty_block(set, i) : Block{});
    body.headings.push_back(heading_block(set, body.phases.back()));
  }
  const double step = set.width + kGutter_pt;
  if (!drop && kept < dearest.size()) return std::nullopt;
  while (!pack(body, shown, fit, step, corner, nullptr)) {
    if (!drop || kept == 0) return std::nullopt;
    shown[dearest[--kept]] = false;
  }
  stamp(head, {kSide_pt, kTop_pt}, out.marks);
  pack(body, shown, fit, step, corner, &out.marks);
  stamp(foot, {kSide_pt, foot_top}, out.marks);
  out.left_out = answer.duties_size() - static_cast<int>(kept);
  if (out.left_out > 0) {
    Block more;
    const std::string words = fmt::format("and {} more: see the phone", out.left_out);
    more.line(0, words, more_face, measure(words, more_face));
    stamp(more, {kSide_pt, foot_top - 6 - more.height}, out.marks);
  }
  return out;
}

}  // namespace

SheetLayout lay_out_sheet(const proto::WindDown& answer, const Measure& measure) {
  for (const SheetFit& fit : kFits) {
    if (auto sheet = try_fit(answer, measure, fit, false)) return *std::move(sheet);
  }
  // With nothing on it, any list has room.
  return try_fit(answer, measure, kFits.back(), true).value_or(SheetLayout{});
}

}  // namespace chipfall
