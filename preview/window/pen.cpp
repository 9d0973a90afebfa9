#include "preview/window/pen.h"

#include <algorithm>
#include <cmath>

namespace chipfall::window {
namespace {

/// Of the screen's height, that stays for buttons at the bottom; [c.p.]
constexpr float kMostFoot = 1.0F / 3;

}  // namespace

Pen::Pen(Type& type, Hands& hands, SeenLayer& seen, const Rect& screen, float text_size,
         std::string place, Rgb ground)
    : type_(type),
      hands_(hands),
      seen_(seen),
      screen_(screen),
      text_size_(text_size),
      place_(std::move(place)),
      list_(ImGui::GetBackgroundDrawList()),
      left_(screen.left + kMargin_px),
      right_(screen.right - kMargin_px),
      y_(screen.top),
      clip_(screen),
      ground_(ground) {
  list_->PushClipRect({screen.left, screen.top}, {screen.right, screen.bottom}, true);
  fill(screen, ground, 0);
}

void Pen::end() {
  if (scroll_ != nullptr && scrolls_ && !foot_follows_) foot();
  if (scroll_ != nullptr) {
    const float height = y_ + 14 - foot_top_;
    scroll_->foot = y_ > foot_top_ + 12 ? height : 0;
    if (foot_follows_) end_body();
  }
  list_->PopClipRect();
}

bool Pen::head(const std::string& title, const std::string& back) {
  y_ += 12;
  float left = left_;
  bool went_back = false;
  if (!back.empty()) {
    const Rect at{screen_.left + 6, y_, screen_.left + 6 + kTargetUsual, y_ + kTargetUsual};
    went_back = tap(back, at, "Back");
    icon(Icon::kBack, at.left + 24, at.top + 24, std::min(32.0F, 22 * text_size_), kInk);
    left = at.right + 6;
  }
  const float line = line_px(Face::kTitle);
  const auto lines = type_.lines(title, Face::kTitle, text_size_, right_ - left);
  float y = y_ + std::max(0.0F, (kTargetUsual - line) / 2);
  for (const std::string& words : lines) {
    words_at(left, y, words, Face::kTitle, kInk, kPaper);
    y += line;
  }
  y_ = std::max(y_ + kTargetUsual, y) + 8;
  return went_back;
}

void Pen::body(Scroll& scroll) {
  scroll_ = &scroll;
  scrolls_ = true;
  body_top_ = y_;
  foot_follows_ = scroll.foot > kMostFoot * screen_.height();
  const float foot = foot_follows_ ? 0 : scroll.foot;
  clip_ = {screen_.left, y_, screen_.right, screen_.bottom - foot};
  scroll.view = clip_.height();
  const bool here = clip_.has(hands_.press_x, hands_.press_y);
  if (hands_.down && hands_.slipped && here && !hands_.sliding) {
    scroll.offset -= hands_.y - hands_.last_y;
  }
  if (clip_.has(hands_.x, hands_.y)) scroll.offset -= hands_.wheel * 60;
  scroll.offset = std::clamp(scroll.offset, 0.0F, std::max(0.0F, scroll.content - scroll.view));
  list_->PushClipRect({clip_.left, clip_.top}, {clip_.right, clip_.bottom}, true);
  y_ -= scroll.offset;
}

void Pen::end_body() {
  scroll_->content = y_ + scroll_->offset - body_top_ + 12;
  list_->PopClipRect();
  if (scroll_->content > scroll_->view + 1) {
    // Where one is in what scrolls: a thin bar, also the sign that there is more.
    const float share = scroll_->view / scroll_->content;
    const float top = clip_.top + scroll_->offset / scroll_->content * clip_.height();
    fill({screen_.right - 5, top + 2, screen_.right - 2, top + share * clip_.height() - 2}, kGrain,
         2);
  }
  scrolls_ = false;
}

void Pen::foot() {
  ground_ = kPaper;
  if (foot_follows_) {
    foot_top_ = y_;
    y_ += 10;
    return;
  }
  end_body();
  foot_top_ = screen_.bottom - scroll_->foot;
  clip_ = screen_;
  if (scroll_->foot > 0) {
    fill({screen_.left, foot_top_, screen_.right, screen_.bottom}, kPaper, 0);
    list_->AddLine({screen_.left, foot_top_}, {screen_.right, foot_top_}, colour_of(kHairline), 1);
  }
  y_ = foot_top_ + 10;
}

void Pen::words_at(float x, float y, const std::string& words, Face face, Rgb ink, Rgb ground,
                   const std::string& of, bool danger) {
  const float size = Type::size_px(face, text_size_);
  const float high = line_px(face);
  const float wide_px = wide(words, face);
  const Rect at{x, y, x + wide_px, y + high};
  seen_.add({SeenKind::kText, of, words, at, clip_, ink, ground, danger, false, scrolls_});
  if (!meet(at, clip_)) return;
  list_->AddText(type_.font(face, text_size_), size, {x, y + (high - size) / 2 - 0.5F},
                 colour_of(ink), words.data(), words.data() + words.size());
}

void Pen::text(const std::string& words, Face face, Rgb ink) {
  const bool danger = ground_ == kHoney || ground_ == kBrick || ink == kBrick;
  for (const std::string& line : type_.lines(words, face, text_size_, width())) {
    words_at(left_, y_, line, face, ink, ground_, {}, danger);
    y_ += line_px(face);
  }
}

void Pen::named(const std::string& name, const std::string& words) {
  const float indent = std::ceil(wide(name, Face::kBold)) + 8;
  words_at(left_, y_, name, Face::kBold, kInk, ground_);
  if (indent > width() * 0.4F) {
    y_ += line_px(Face::kBody);
    text(words);
    return;
  }
  left_ += indent;
  text(words);
  left_ -= indent;
}

void Pen::bullet(const std::string& words) {
  list_->AddCircleFilled({left_ + 5, y_ + line_px(Face::kBody) / 2}, 3.2F, colour_of(kGrain));
  left_ += 18;
  text(words);
  left_ -= 18;
}

void Pen::heading(const std::string& words) {
  y_ += 12;
  text(words, Face::kTitle);
  y_ += 4;
}

void Pen::line() {
  y_ += 7;
  list_->AddLine({left_, y_}, {right_, y_}, colour_of(kHairline), 1);
  y_ += 8;
}

void Pen::card(Rgb ground, Rgb edge_colour) {
  Card& card = cards_.emplace_back();
  card.splitter.Split(list_, 2);
  card.splitter.SetCurrentChannel(list_, 1);
  card.top = y_;
  card.edge = edge_colour;
  card.ground_before = ground_;
  ground_ = ground;
  left_ += kPadding_px;
  right_ -= kPadding_px;
  y_ += kPadding_px - 2;
}

void Pen::card_end() {
  Card& card = cards_.back();
  left_ -= kPadding_px;
  right_ += kPadding_px;
  y_ += kPadding_px;
  const Rect at{left_, card.top, right_, y_};
  card.splitter.SetCurrentChannel(list_, 0);
  if (meet(at, clip_)) {
    fill(at, ground_);
    edge(at, card.edge, card.edge == kHairline ? 1.0F : 2.5F);
  }
  card.splitter.Merge(list_);
  ground_ = card.ground_before;
  cards_.pop_back();
  y_ += kGap_px;
}

void Pen::care(const std::string& words, const std::string& word) {
  card(kHoney, kHoneyInk);
  const float size = line_px(Face::kBold);
  icon(Icon::kCare, left_ + size / 2, y_ + size / 2, size, kHoneyInk);
  left_ += size + 8;
  text(word, Face::kBold, kHoneyInk);
  left_ -= size + 8;
  gap(2);
  text(words, Face::kBody, kHoneyInk);
  card_end();
}

void Pen::cares(const std::vector<std::string>& words) {
  if (words.empty()) return;
  if (words.size() == 1) return care(words.front());
  card(kHoney, kHoneyInk);
  const float size = line_px(Face::kBold);
  icon(Icon::kCare, left_ + size / 2, y_ + size / 2, size, kHoneyInk);
  left_ += size + 8;
  text("Take care", Face::kBold, kHoneyInk);
  left_ -= size + 8;
  for (const std::string& sentence : words) {
    gap(4);
    list_->AddCircleFilled({left_ + 5, y_ + line_px(Face::kBody) / 2}, 3.2F, colour_of(kHoneyInk));
    left_ += 18;
    text(sentence, Face::kBody, kHoneyInk);
    left_ -= 18;
  }
  card_end();
}

void Pen::trouble(const std::string& title, const std::vector<std::string>& words) {
  card(kCard, kBrick);
  const float size = line_px(Face::kBold);
  icon(Icon::kCare, left_ + size / 2, y_ + size / 2, size, kBrick);
  left_ += size + 8;
  text(title, Face::kBold, kBrick);
  left_ -= size + 8;
  for (const std::string& sentence : words) {
    gap(4);
    text(sentence);
  }
  card_end();
}

bool Pen::tap(const std::string& id, const Rect& at, const std::string& words, bool chosen) {
  Seen seen{SeenKind::kTarget, id, words, at, clip_, kInk, ground_, false, chosen, scrolls_};
  seen_.add(std::move(seen));
  const std::string name = full(id);
  const auto under = [&](float x, float y) { return at.has(x, y) && clip_.has(x, y); };
  if (hands_.pressed && under(hands_.x, hands_.y)) hands_.held = name;
  if (hands_.focus == name && meet(at, clip_)) {
    edge({at.left - 3, at.top - 3, at.right + 3, at.bottom + 3}, kInk, 2.5F, kRound_px + 3);
    if (hands_.enter) return true;
  }
  return hands_.released && hands_.held == name && !hands_.slipped && under(hands_.x, hands_.y);
}

Rect Pen::picture(const std::string& id, const std::string& says, float height) {
  const Rect at{left_, y_, right_, y_ + height};
  seen_.add({SeenKind::kPicture, id, says, at, clip_, kInk, ground_, false, false, scrolls_});
  y_ += height;
  return at;
}

void Pen::fill(const Rect& at, Rgb colour, float round) {
  list_->AddRectFilled({at.left, at.top}, {at.right, at.bottom}, colour_of(colour), round);
}

void Pen::edge(const Rect& at, Rgb colour, float thick, float round) {
  list_->AddRect({at.left, at.top}, {at.right, at.bottom}, colour_of(colour), round, 0, thick);
}

}  // namespace chipfall::window
