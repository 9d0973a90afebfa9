#include "preview/terminal/sheet_blocks.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/duty/say.h"

namespace chipfall {
namespace {

constexpr double kIndent_pt = 33;  ///< tick box and number
constexpr double kTriangle_pt = 8;
constexpr double kWriting_pt = 18;  ///< between two lines to write on
constexpr int kWritingLines = 2;
constexpr int kMostBoxLines = 30;

double tick_pt(const Setting& set) { return set.fit.body_pt; }

void add_text(Block& block, const Setting& set, double x, const std::string& text, const Face& face,
              Ink ink = kBlack) {
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

constexpr double kWidestNames_pt = 60;

/// "A", "B, C": whose lanes a duty stands in.
std::string lane_letters(const proto::WindDown& answer, const std::string& duty) {
  std::string out;
  for (const proto::Lane& lane : answer.lanes()) {
    for (const proto::LaneStep& step : lane.steps()) {
      if (step.duty() != duty) continue;
      out += (out.empty() ? "" : ", ") + lane.person();
    }
  }
  return out;
}

/// Right of a duty's title: who takes it, where its cautions stand, and its minutes. Returns their
/// width.
double add_right(Block& block, const Setting& set, int index, const std::string& cautions) {
  const Face face{set.fit.body_pt};
  const auto text = [&](double right, const std::string& words) {
    const double width = set.measure(words, face);
    block.marks.push_back(
        {PrintKind::kText, box_at({right - width, 0}, width, line_pt(face)), words, face, kBlack});
    return right - width;
  };
  const double minutes = set.answer.duties(index).minutes();
  double left = set.width;
  if (std::isfinite(minutes)) {
    left = text(left, say_half_minutes(std::clamp(minutes, 0.0, 9999.0)));
  }
  // Who takes it, in a crew.
  if (set.answer.lanes_size() > 1) {
    const std::string who = lane_letters(set.answer, set.answer.duties(index).id());
    // Shops may give names instead; a column is narrow.
    if (!who.empty()) left = text(left - 7, shorten(who, face, kWidestNames_pt, set.measure));
  }
  if (!cautions.empty()) {
    left = text(left - 7, cautions) - kTriangle_pt - 3;
    const double top = (line_pt(face) - kTriangle_pt) / 2;
    block.shape(PrintKind::kTriangle, box_at({left, top}, kTriangle_pt, kTriangle_pt));
  }
  return set.width - left;
}

void add_number(Block& block, const Setting& set, int number) {
  const Face face{set.fit.body_pt};
  const std::string words = fmt::format("{}.", number);
  const double width = set.measure(words, face);
  const double left = std::max(tick_pt(set) + 3, kIndent_pt - 4 - width);
  block.marks.push_back(
      {PrintKind::kText, box_at({left, 0}, width, line_pt(face)), words, face, kBlack});
}

/// Tick box, number, title, where its cautions stand, minutes.
Block title_block(const Setting& set, int index, const std::string& cautions) {
  const proto::Duty& duty = set.answer.duties(index);
  Block block;
  block.shape(duty.safety() ? PrintKind::kHeavyBox : PrintKind::kTickBox,
              box_at({1, 1}, tick_pt(set), tick_pt(set)));
  add_number(block, set, duty.order() > 0 ? duty.order() : index + 1);
  Setting narrower = set;
  narrower.width -= add_right(block, set, index, cautions) + 6;
  add_text(block, narrower, kIndent_pt, duty.title(), {set.fit.body_pt, true});
  return block;
}

Block closed(const Setting& set, Block block) {
  block.height = std::max(block.height, tick_pt(set) + 2) + kBelowDuty_pt;
  return block;
}

}  // namespace

Block duty_block(const Setting& set, int index) {
  const proto::Duty& duty = set.answer.duties(index);
  const bool lettered = set.fit.lettered;
  Block block = title_block(set, index, lettered ? set.cautions.letters[index] : std::string());
  add_text(block, set, kIndent_pt, where_and_with(duty), {set.fit.body_pt});
  if (set.fit.why_pt > 0) {
    add_text(block, set, kIndent_pt, duty.why(), {set.fit.why_pt, false, true}, kSoft);
  }
  add_steps(block, set, duty);
  add_caution(block, set, lettered ? set.cautions.own[index] : duty.caution());
  return closed(set, std::move(block));
}

Block brief_block(const Setting& set, int index) {
  std::string cautions = set.cautions.letters[index];
  if (!set.cautions.own[index].empty()) cautions += cautions.empty() ? "phone" : ", phone";
  return closed(set, title_block(set, index, cautions));
}

Block heading_block(const Setting& set, const std::string& phase) {
  Block block;
  block.height = 3;
  add_text(block, set, 0, phase_heading(phase), {set.fit.body_pt + 1.5, true});
  block.shape(PrintKind::kRule, box_at({0, block.height}, set.width, 0));
  block.height += 4;
  return block;
}

Block head_block(const Setting& set) {
  const proto::WindDown& answer = set.answer;
  const Measure& measure = set.measure;
  const double width = set.width;
  const std::string& down = answer.finish().tools_down_by();
  Block clock;
  double left = 0;
  if (!down.empty()) {
    const Face words{13, true};
    const Face figures{44, true};
    const std::string day =
        answer.finish().day_before() ? "Tools down, day before, by" : "Tools down by";
    const std::string time = shorten(down, figures, 0.4 * width, measure);
    clock.line(0, day, words, measure(day, words));
    clock.line(0, time, figures, measure(time, figures));
    left = std::max(measure(day, words), measure(time, figures)) + 26;
  }
  Block block;
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
  if (const std::string& leave = answer.finish().leave_at(); !leave.empty()) {
    session += (session.empty() ? "out by " : ", out by ") + leave;
  }
  if (!session.empty()) add(session, {11}, 2);
  if (const std::string time = minutes_in_words(answer); !time.empty()) add(time, {11}, 2);
  const bool heavy =
      std::ranges::any_of(answer.duties(), [](const proto::Duty& duty) { return duty.safety(); });
  add(std::string("Thank you. Tick what is done.") + (heavy ? " Heavy box: do not skip." : "") +
          (answer.lanes_size() > 1 ? " Letter: who takes it." : ""),
      {9.5}, 2);
  block.marks.insert(block.marks.end(), clock.marks.begin(), clock.marks.end());
  block.height = std::max(block.height, clock.height) + 8;
  return block;
}

namespace {

/// General cautions and the lettered ones in a frame; nothing when there are none.
Block caution_block(const Setting& set) {
  const Face face{kLeastBody_pt};
  std::vector<std::string> words;
  for (size_t i = 0; set.fit.lettered && i < set.cautions.shared.size(); ++i) {
    words.push_back(fmt::format("{}\u00A0\u00A0{}", static_cast<char>('a' + static_cast<int>(i)),
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

}  // namespace

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

}  // namespace chipfall
