#pragma once

#include <cmath>
#include <string>

/// What fingers, mouse and keyboard do in one frame, and what they hold from frame to frame.
namespace chipfall::window {

/// A finger that moved further than this scrolls and taps nothing.
inline constexpr float kSlip_px = 9;

struct Hands {
  float x = -1;
  float y = -1;
  bool down = false;
  float wheel = 0;     ///< notches, up is positive
  std::string typed;   ///< UTF-8, this frame
  bool erase = false;  ///< backspace
  bool enter = false;
  bool next = false;      ///< Tab
  bool previous = false;  ///< with Shift

  bool pressed = false;   ///< went down in this frame
  bool released = false;  ///< went up in this frame
  float press_x = 0;
  float press_y = 0;
  float last_y = 0;
  bool slipped = false;  ///< since the press, further than kSlip_px
  bool sliding = false;  ///< holds a slider: nothing scrolls
  std::string held;      ///< id of the target under the press
  std::string focus;     ///< id of the target that the keyboard is at
  std::string writing;   ///< id of the text field that letters go to

  /// Before a frame is drawn, with x, y and down set.
  void begin(bool was_down) {
    pressed = down && !was_down;
    released = !down && was_down;
    if (pressed) {
      press_x = x;
      press_y = y;
      last_y = y;
      slipped = false;
      sliding = false;
      held.clear();
      focus.clear();
    }
    if (down && std::hypot(x - press_x, y - press_y) > kSlip_px) slipped = true;
  }

  /// After a frame was drawn.
  void end() {
    last_y = y;
    if (!down) {
      held.clear();
      sliding = false;
    }
    wheel = 0;
    typed.clear();
    erase = enter = next = previous = false;
  }
};

}  // namespace chipfall::window
