#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "preview/window/pen.h"

/// What fingers are for: buttons, rows, steppers, switches, fields.
namespace chipfall::window {
namespace {

struct Dress {
  Rgb ground;
  Rgb ink;
  Rgb edge;
};

Dress dress_of(Look look) {
  switch (look) {
    case Look::kMain:
      return {kWalnut, kPale, kWalnut};
    case Look::kDone:
      return {kLeaf, kPale, kLeaf};
    case Look::kChosen:
      return {kSanded, kInk, kWalnut};
    case Look::kDanger:
      return {kBrick, kPale, kBrick};
    case Look::kPlain:
      break;
  }
  return {kCard, kInk, kGrain};
}

constexpr float kInside_px = 12;

}  // namespace

std::vector<std::string> Pen::label_lines(const Label& label, float width) {
  const float icon_room = label.icon == Icon::kNone ? 0 : line_px(Face::kBold) + 8;
  return type_.lines(label.text, Face::kBold, text_size_, width - 2 * kInside_px - icon_room);
}

float Pen::label_height(const Label& label, float width) {
  const auto lines = static_cast<float>(std::max<std::size_t>(1, label_lines(label, width).size()));
  return std::max(kTargetUsual + 4, lines * line_px(Face::kBold) + 26);
}

void Pen::labelled(const Rect& at, const Label& label) {
  Dress dress = dress_of(label.look);
  if (meet(at, clip_)) {
    Rect drawn = at;
    if (hands_.held == full(label.id) && !hands_.slipped) {
      drawn = {at.left + 2, at.top + 2, at.right - 2, at.bottom - 2};
    }
    fill(drawn, dress.ground);
    edge(drawn, dress.edge, label.look == Look::kChosen ? 3.0F : 1.5F);
    if (label.look == Look::kChosen) {
      // A bar below the word, so that the shade alone does not say which one it is.
      fill({drawn.left + 18, drawn.bottom - 11, drawn.right - 18, drawn.bottom - 7}, kWalnut, 2);
    }
  }
  const float line = line_px(Face::kBold);
  const float icon_room = label.icon == Icon::kNone ? 0 : line + 8;
  const auto lines = label_lines(label, at.width());
  float widest = 0;
  for (const std::string& words : lines) widest = std::max(widest, wide(words, Face::kBold));
  const float left = at.left + (at.width() - widest - icon_room) / 2;
  float y = at.top + (at.height() - static_cast<float>(lines.size()) * line) / 2;
  if (label.icon != Icon::kNone && meet(at, clip_)) {
    icon(label.icon, left + line / 2, at.top + at.height() / 2, line * 0.72F, dress.ink);
  }
  for (const std::string& words : lines) {
    const float x = left + icon_room + (widest - wide(words, Face::kBold)) / 2;
    words_at(x, y, words, Face::kBold, dress.ink, dress.ground, label.id,
             label.look == Look::kDanger);
    y += line;
  }
}

bool Pen::button(const Label& label) { return buttons({label}) == 0; }

int Pen::buttons(const std::vector<Label>& labels) {
  const auto count = static_cast<float>(labels.size());
  const float each = (width() - (count - 1) * kGap_px) / count;
  // Two lines side by side are still read at a glance; more are not, and a broken word never is.
  bool beside = true;
  for (const Label& label : labels) {
    const float icon_room = label.icon == Icon::kNone ? 0 : line_px(Face::kBold) + 8;
    for (std::size_t from = 0; from < label.text.size();) {
      const std::size_t to = std::min(label.text.find(' ', from), label.text.size());
      beside = beside && wide(label.text.substr(from, to - from), Face::kBold) <=
                             each - 2 * kInside_px - icon_room;
      from = to + 1;
    }
    beside = beside && label_lines(label, each).size() <= 2;
  }
  int tapped = -1;
  float high = 0;
  for (const Label& label : labels) high = std::max(high, label_height(label, each));
  float x = left_;
  for (std::size_t i = 0; i < labels.size(); ++i) {
    const float h = beside ? high : label_height(labels[i], width());
    const Rect at = beside ? Rect{x, y_, x + each, y_ + h} : Rect{left_, y_, right_, y_ + h};
    if (tap(labels[i].id, at, labels[i].text, labels[i].look == Look::kChosen)) {
      tapped = static_cast<int>(i);
    }
    labelled(at, labels[i]);
    x += each + kGap_px;
    if (!beside) y_ += h + kGap_px - 2;
  }
  if (beside) y_ += high + kGap_px - 2;
  return tapped;
}

bool Pen::row(const std::string& id, const std::string& title, const std::string& words, Icon sign,
              bool chosen) {
  const Rgb ground = chosen ? kSanded : kCard;
  const float sign_room = sign == Icon::kNone ? 0 : 36;
  const float room = width() - 2 * kPadding_px - sign_room;
  const auto head = type_.lines(title, Face::kBold, text_size_, room);
  const auto rest = type_.lines(words, Face::kSmall, text_size_, room);
  const float text_high = static_cast<float>(head.size()) * line_px(Face::kBold) +
                          static_cast<float>(rest.size()) * line_px(Face::kSmall);
  const float high = std::max(kTargetUsual + 8, text_high + 22);
  const Rect at{left_, y_, right_, y_ + high};
  const bool tapped = tap(id, at, title, chosen);
  if (meet(at, clip_)) {
    fill(at, ground);
    edge(at, chosen ? kWalnut : kGrain, chosen ? 2.5F : 1.2F);
    icon(sign, right_ - kPadding_px - 10, y_ + high / 2, std::min(28.0F, 20 * text_size_),
         chosen ? kWalnut : kInk);
  }
  float y = y_ + (high - text_high) / 2;
  for (const std::string& line : head) {
    words_at(left_ + kPadding_px, y, line, Face::kBold, kInk, ground, id);
    y += line_px(Face::kBold);
  }
  for (const std::string& line : rest) {
    words_at(left_ + kPadding_px, y, line, Face::kSmall, kSoftInk, ground, id);
    y += line_px(Face::kSmall);
  }
  y_ += high + 8;
  return tapped;
}

int Pen::stepper(const std::string& id, const std::string& value, const std::vector<int>& steps,
                 const std::vector<std::string>& words) {
  constexpr float kStepGap_px = 6;
  const float value_wide = wide(value, Face::kFigure) + 12;
  const auto count = static_cast<float>(steps.size());
  float label_wide = kTargetUsual + 4;
  for (const std::string& label : words) {
    label_wide = std::max(label_wide, wide(label, Face::kBold) + 16);
  }
  const float high = std::max(kTargetUsual + 6, line_px(Face::kBold) + 22);
  const bool one_line = count * (label_wide + kStepGap_px) + value_wide <= width();
  if (!one_line) {
    words_at(left_ + (width() - value_wide + 12) / 2, y_, value, Face::kFigure, kInk, ground_);
    y_ += line_px(Face::kFigure) + 6;
    label_wide = (width() - (count - 1) * kStepGap_px) / count;
  }
  int step = 0;
  float x = left_;
  const auto half = steps.size() / 2;
  for (std::size_t i = 0; i < steps.size(); ++i) {
    if (one_line && i == half) {
      const float right_part = count / 2 * (label_wide + kStepGap_px) - kStepGap_px;
      const float room = right_ - right_part - x;
      words_at(x + (room - value_wide + 12) / 2, y_ + (high - line_px(Face::kFigure)) / 2, value,
               Face::kFigure, kInk, ground_);
      x = right_ - right_part;
    }
    const Label label{fmt::format("{}/{:+d}", id, steps[i]), words[i], Look::kPlain, Icon::kNone};
    const Rect at{x, y_, x + label_wide, y_ + high};
    if (tap(label.id, at, label.text)) step = steps[i];
    if (meet(at, clip_)) {
      fill(at, kCard, 12);
      edge(at, kGrain, 1.5F, 12);
    }
    words_at(x + (label_wide - wide(label.text, Face::kBold)) / 2,
             y_ + (high - line_px(Face::kBold)) / 2, label.text, Face::kBold, kInk, kCard,
             label.id);
    x += label_wide + kStepGap_px;
  }
  y_ += high + kGap_px - 2;
  return step;
}

bool Pen::toggle(const std::string& id, const std::string& label, bool on) {
  const std::string word = on ? "Yes" : "No";
  const float switch_wide = 52;
  const float word_wide = std::max(wide("Yes", Face::kBold), wide("No", Face::kBold));
  const float room = width() - switch_wide - word_wide - 22;
  const auto lines = type_.lines(label, Face::kBody, text_size_, room);
  const float text_high = static_cast<float>(lines.size()) * line_px(Face::kBody);
  const float high = std::max(kTargetUsual, text_high + 16);
  const Rect at{left_, y_, right_, y_ + high};
  const bool tapped = tap(id, at, label, on);
  float y = y_ + (high - text_high) / 2;
  for (const std::string& line : lines) {
    words_at(left_, y, line, Face::kBody, kInk, ground_, id);
    y += line_px(Face::kBody);
  }
  const float middle = y_ + high / 2;
  words_at(right_ - switch_wide - 8 - wide(word, Face::kBold), middle - line_px(Face::kBold) / 2,
           word, Face::kBold, kInk, ground_, id);
  const Rect track{right_ - switch_wide, middle - 15, right_, middle + 15};
  if (meet(track, clip_)) {
    fill(track, on ? kWalnut : kCard, 15);
    edge(track, on ? kWalnut : kGrain, 2, 15);
    const float knob = on ? track.right - 15 : track.left + 15;
    list_->AddCircleFilled({knob, middle}, 10, colour_of(on ? kPale : kGrain));
    if (on) icon(Icon::kCheck, track.left + 15, middle, 14, kPale);
  }
  y_ += high + 4;
  return tapped;
}

int Pen::choice(const std::string& id, const std::vector<std::string>& labels, int chosen) {
  std::vector<Label> all;
  for (std::size_t i = 0; i < labels.size(); ++i) {
    const bool on = static_cast<int>(i) == chosen;
    all.push_back(
        {fmt::format("{}/{}", id, i), labels[i], on ? Look::kChosen : Look::kPlain, Icon::kNone});
  }
  return buttons(all);
}

std::optional<float> Pen::slider(const std::string& id, const std::string& words, float share) {
  const Rect at{left_, y_, right_, y_ + kTargetUsual};
  tap(id, at, words);
  const std::string name = full(id);
  const float middle = y_ + kTargetUsual / 2;
  const float from = left_ + 14;
  const float to = right_ - 14;
  std::optional<float> moved;
  if (hands_.held == name && (hands_.down || hands_.released)) {
    hands_.sliding = true;
    moved = std::clamp((hands_.x - from) / (to - from), 0.0F, 1.0F);
    share = *moved;
  }
  const float knob = from + share * (to - from);
  fill({from, middle - 4, to, middle + 4}, kHairline, 4);
  fill({from, middle - 4, knob, middle + 4}, kWalnut, 4);
  list_->AddCircleFilled({knob, middle}, 14, colour_of(kWalnut));
  list_->AddCircleFilled({knob, middle}, 5, colour_of(kPale));
  y_ += kTargetUsual;
  return moved;
}

bool Pen::field(const std::string& id, const std::string& hint, std::string& words,
                std::size_t most) {
  const std::string name = full(id);
  const bool here = hands_.writing == name;
  const std::string shown = words.empty() && !here ? hint : words;
  const float room = width() - 2 * kInside_px;
  auto lines = type_.lines(shown, Face::kBody, text_size_, room);
  if (lines.empty()) lines.emplace_back();
  const float line = line_px(Face::kBody);
  const float high = std::max(kTargetUsual + 4, static_cast<float>(lines.size()) * line + 24);
  const Rect at{left_, y_, right_, y_ + high};
  if (tap(id, at, shown)) hands_.writing = name;
  fill(at, kCard, 10);
  edge(at, here ? kWalnut : kGrain, here ? 3.0F : 1.5F, 10);
  float y = y_ + (high - static_cast<float>(lines.size()) * line) / 2;
  for (const std::string& part : lines) {
    words_at(left_ + kInside_px, y, part, Face::kBody, words.empty() ? kSoftInk : kInk, kCard, id);
    y += line;
  }
  if (here) {
    const float x = left_ + kInside_px + wide(lines.back(), Face::kBody) + 2;
    list_->AddLine({x, y - line + 3}, {x, y - 3}, colour_of(kWalnut), 2);
  }
  y_ += high + kGap_px;
  if (!here) return false;
  const std::string before = words;
  if (hands_.erase && !words.empty()) {
    do words.pop_back();
    while (!words.empty() && (static_cast<unsigned char>(words.back()) & 0xC0U) == 0x80U);
  }
  if (words.size() + hands_.typed.size() <= most) words += hands_.typed;
  return words != before;
}

}  // namespace chipfall::window
