#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "preview/window/demo_hub.h"
#include "preview/window/phone.h"

/// Phones side by side, each with its switches above it.
namespace chipfall::window {

inline constexpr float kPhoneWidth_px = 390;
inline constexpr float kPhoneHeight_px = 844;
inline constexpr float kWideWidth_px = 1480;

class Desk {
 public:
  explicit Desk(Type type) : type_(std::move(type)) {}

  Phone& add(std::unique_ptr<Phone> phone);
  Phone* find(std::string_view name);
  std::vector<std::unique_ptr<Phone>>& phones() { return phones_; }

  float width() const;
  float height() const;
  Rect place_of(const Phone& phone) const;

  /// Takes what the doors answered and noticed. True: something has to be drawn.
  bool look();
  bool busy() const;

  /// Makes the letters that are needed; see Type::prepare.
  bool prepare(float pixels);

  /// Draws everything, between ImGui's NewFrame and Render; `hands` says what fingers do now.
  void draw();

  /// Between the phones; null where they share one folder, or none is wanted.
  std::unique_ptr<DemoHub> hub;
  Hands hands;
  SeenLayer seen;  ///< of the switches

 private:
  void draw_switches(Phone& phone, const Rect& at);
  void move_focus();

  Type type_;
  std::vector<std::unique_ptr<Phone>> phones_;
  bool was_down_ = false;
};

}  // namespace chipfall::window
