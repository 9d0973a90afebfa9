#pragma once

#include <deque>
#include <initializer_list>
#include <optional>
#include <string>
#include <vector>

#include <imgui.h>

#include "preview/window/hands.h"
#include "preview/window/seen.h"
#include "preview/window/type.h"

/// Draws one screen from top to bottom, and records what it draws.
namespace chipfall::window {

inline constexpr float kMargin_px = 16;
inline constexpr float kGap_px = 10;      ///< between things that belong together
inline constexpr float kPadding_px = 14;  ///< inside a card
inline constexpr float kRound_px = 14;

/// What a screen remembers of its own drawing.
struct Scroll {
  float offset = 0;
  float content = 0;  ///< height, of the last frame
  float view = 0;
  float foot = 0;  ///< height of the part below, which is fixed unless it is too high for that
};

enum class Icon {
  kNone,
  kCheck,
  kBack,
  kNext,
  kPlus,
  kMinus,
  kCare,
  kCross,
  kPass,
  kBin,
  kMap,
  kDot
};
enum class Look { kMain, kDone, kPlain, kChosen, kDanger };

struct Label {
  std::string id;
  std::string text;
  Look look = Look::kPlain;
  Icon icon = Icon::kNone;
};

class Pen {
 public:
  /// `place` begins every id towards `hands`, so that two phones do not share a finger.
  Pen(Type& type, Hands& hands, SeenLayer& seen, const Rect& screen, float text_size,
      std::string place, Rgb ground = kPaper);

  // -- Parts of a screen: head, then body, then foot.
  /// Title, with an arrow back where `back` has an id. True: it was tapped.
  bool head(const std::string& title, const std::string& back = {});
  void body(Scroll& scroll);  ///< what follows scrolls
  /// What follows stays at the bottom, unless large text makes it so high that it would hide what
  /// it is about: then it comes after the body and scrolls with it.
  void foot();
  void end();

  // -- What a screen is made of. Each takes the whole width and moves down.
  void text(const std::string& words, Face face = Face::kBody, Rgb ink = kInk);
  /// A word at the left in bold, its text beside it, or below where there is no room.
  void named(const std::string& name, const std::string& words);
  void bullet(const std::string& words);
  void heading(const std::string& words);
  void gap(float px = kGap_px) { y_ += px; }
  void line();

  /// The ground of what is drawn until card_end; cards may lie in cards.
  void card(Rgb ground = kCard, Rgb edge = kHairline);
  void card_end();
  /// A card of warning: the sign, a word, and the text.
  void care(const std::string& words, const std::string& word = "Take care");
  /// Several in one card, a dot before each; none: nothing.
  void cares(const std::vector<std::string>& words);
  void trouble(const std::string& title, const std::vector<std::string>& words);

  bool button(const Label& label);
  /// Side by side where all fit, else below each other. The position tapped, or -1.
  int buttons(const std::vector<Label>& labels);
  /// A row to tap: title, lesser words below, icon at the right.
  bool row(const std::string& id, const std::string& title, const std::string& words, Icon icon,
           bool chosen = false);
  /// Figures with buttons around; the labels are signed steps, "-15" to "+15". The step, or 0.
  int stepper(const std::string& id, const std::string& value, const std::vector<int>& steps,
              const std::vector<std::string>& words);
  bool toggle(const std::string& id, const std::string& label, bool on);
  /// Chosen one of a few; the position tapped, or -1.
  int choice(const std::string& id, const std::vector<std::string>& labels, int chosen);
  /// 0 to 1 while a finger is on it.
  std::optional<float> slider(const std::string& id, const std::string& text, float share);
  /// A field for letters. True: changed.
  bool field(const std::string& id, const std::string& hint, std::string& words, std::size_t most);
  /// Room for a drawing; its box.
  Rect picture(const std::string& id, const std::string& says, float height);

  // -- For drawings.
  bool tap(const std::string& id, const Rect& at, const std::string& text, bool chosen = false);
  void words_at(float x, float y, const std::string& words, Face face, Rgb ink, Rgb ground,
                const std::string& of = {}, bool danger = false);
  float wide(const std::string& words, Face face) { return type_.width(words, face, text_size_); }
  float line_px(Face face) const { return Type::line_px(face, text_size_); }
  void fill(const Rect& at, Rgb colour, float round = kRound_px);
  void edge(const Rect& at, Rgb colour, float thick = 1.5F, float round = kRound_px);
  void icon(Icon icon, float x, float y, float size, Rgb ink);
  ImDrawList& list() { return *list_; }
  Hands& hands() { return hands_; }
  float text_size() const { return text_size_; }
  float left() const { return left_; }
  float right() const { return right_; }
  float width() const { return right_ - left_; }
  float y() const { return y_; }
  const Rect& screen() const { return screen_; }
  Rect clip() const { return clip_; }
  Rgb ground() const { return ground_; }
  std::string full(const std::string& id) const { return place_ + "|" + id; }

 private:
  void end_body();
  void labelled(const Rect& at, const Label& label);
  float label_height(const Label& label, float width);
  std::vector<std::string> label_lines(const Label& label, float width);

  Type& type_;
  Hands& hands_;
  SeenLayer& seen_;
  Rect screen_;
  float text_size_;
  std::string place_;
  ImDrawList* list_;
  float left_;
  float right_;
  float y_;
  Rect clip_;
  Rgb ground_;
  bool scrolls_ = false;
  Scroll* scroll_ = nullptr;
  float body_top_ = 0;
  float foot_top_ = 0;
  bool foot_follows_ = false;  ///< it scrolls with the body
  struct Card {
    ImDrawListSplitter splitter;
    float top = 0;
    Rgb edge = kHairline;
    Rgb ground_before = kPaper;
  };
  std::deque<Card> cards_;  ///< one in the other
};

inline ImU32 colour_of(Rgb rgb, unsigned alpha = 255) {
  return IM_COL32(rgb >> 16U & 0xFFU, rgb >> 8U & 0xFFU, rgb & 0xFFU, alpha);
}

}  // namespace chipfall::window
