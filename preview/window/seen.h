#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "preview/window/colours.h"

/// What is on a screen, recorded while it is drawn: what tests, scripts and the keyboard go by.
namespace chipfall::window {

/// Device-independent pixels, y down.
struct Rect {
  float left = 0;
  float top = 0;
  float right = 0;
  float bottom = 0;

  float width() const { return right - left; }
  float height() const { return bottom - top; }
  bool has(float x, float y) const { return x >= left && x < right && y >= top && y < bottom; }
};

Rect common(const Rect& a, const Rect& b);  ///< without area where they do not meet
bool meet(const Rect& a, const Rect& b);    ///< share more than a hair's breadth

enum class SeenKind { kTarget, kText, kPicture };

struct Seen {
  SeenKind kind = SeenKind::kText;
  std::string id;    ///< of a target: "list/done"; of text: empty, or the target it labels
  std::string text;  ///< as shown
  Rect at;           ///< the whole of it, also where it is scrolled out of sight
  Rect clip;         ///< where it may show
  Rgb ink = 0;
  Rgb ground = 0;
  bool danger = false;   ///< must be read before somebody gets hurt: 7:1
  bool chosen = false;   ///< of a target: on, or the one chosen
  bool scrolls = false;  ///< out of sight below or above is no fault
};

/// The widgets of one screen, in drawing order.
class SeenLayer {
 public:
  void clear() { seen_.clear(); }
  void add(Seen seen) { seen_.push_back(std::move(seen)); }
  const std::vector<Seen>& all() const { return seen_; }

  /// The target whose id is `name`, or else the first one whose text is; null where there is none.
  const Seen* target(std::string_view name) const;
  /// The texts, one after the other with a blank between, hold these words.
  bool says(std::string_view words) const;
  /// Every text, one a line: for tests that fail.
  std::string words() const;

 private:
  std::vector<Seen> seen_;
};

inline constexpr float kTargetFloor = 44;  ///< no target is smaller, either way
inline constexpr float kTargetUsual = 48;  ///< what widgets give
inline constexpr double kTextContrast = 4.5;
inline constexpr double kDangerContrast = 7;

/// What is wrong with a screen for eyes and fingers, a sentence each: targets too small or over
/// each other, text without contrast, clipped, running out of its screen, or over other text.
std::vector<std::string> faults_of(const SeenLayer& layer, const Rect& screen);

}  // namespace chipfall::window
