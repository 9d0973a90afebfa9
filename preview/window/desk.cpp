#include "preview/window/desk.h"

#include <algorithm>
#include <array>

#include <fmt/format.h>

#include "preview/window/screens.h"

namespace chipfall::window {
namespace {

constexpr float kApart_px = 34;
constexpr float kSwitches_px = 104;
constexpr float kBelow_px = 28;

constexpr std::array<float, 4> kTextSizes{1, 1.5F, 2, 3.1F};

/// What phones' clocks get wrong: slow by minutes, a time zone set by hand, a flat battery.
struct Skew {
  std::int64_t ms;
  const char* words;
};
constexpr std::int64_t kMinute_ms = 60'000;
constexpr std::array<Skew, 4> kSkews{{{0, "Clock right"},
                                      {7 * kMinute_ms, "7 min fast"},
                                      {-180 * kMinute_ms, "3 h slow"},
                                      {26 * 60 * kMinute_ms, "26 h fast"}}};

template <typename List, typename Is>
std::size_t next_of(const List& list, const Is& is) {
  const auto found = std::ranges::find_if(list, is);
  const auto at = found == list.end() ? 0 : static_cast<std::size_t>(found - list.begin());
  return (at + 1) % list.size();
}

}  // namespace

Phone& Desk::add(std::unique_ptr<Phone> phone) {
  phones_.push_back(std::move(phone));
  return *phones_.back();
}

Phone* Desk::find(std::string_view name) {
  for (const auto& phone : phones_) {
    if (phone->name == name) return phone.get();
  }
  return nullptr;
}

float Desk::width() const {
  float width = kApart_px;
  for (const auto& phone : phones_) {
    width += (phone->wide ? kWideWidth_px : kPhoneWidth_px) + kApart_px;
  }
  return width;
}

float Desk::height() const { return kSwitches_px + kPhoneHeight_px + kBelow_px; }

Rect Desk::place_of(const Phone& wanted) const {
  float left = kApart_px;
  for (const auto& phone : phones_) {
    const float width = phone->wide ? kWideWidth_px : kPhoneWidth_px;
    if (phone.get() == &wanted) {
      return {left, kSwitches_px, left + width, kSwitches_px + kPhoneHeight_px};
    }
    left += width + kApart_px;
  }
  return {};
}

bool Desk::look() {
  bool anything = false;
  if (hub) hub->look();
  for (const auto& phone : phones_) anything = phone->look() || anything;
  return anything;
}

bool Desk::busy() const {
  return std::ranges::any_of(phones_, [](const auto& phone) { return phone->device->busy(); });
}

bool Desk::prepare(float pixels) {
  std::set<float> sizes{1};
  for (const auto& phone : phones_) sizes.insert(phone->text_size);
  return type_.prepare(sizes, pixels);
}

void Desk::draw_switches(Phone& phone, const Rect& at) {
  Pen pen(type_, hands, seen, at, 1, "desk", kDesk);
  pen.gap(8);
  pen.words_at(pen.left() - 6, pen.y(), phone.name, Face::kBold, kDeskInk, kDesk);
  pen.gap(30);
  const auto skew = std::ranges::find(kSkews, phone.device->skew(), &Skew::ms);
  const std::string prefix = "desk/" + phone.name;
  std::vector<Label> labels{{prefix + "/text", fmt::format("Text {:.0f} %", 100 * phone.text_size),
                             Look::kPlain, Icon::kNone},
                            {prefix + "/clock", skew == kSkews.end() ? "Clock set" : skew->words,
                             Look::kPlain, Icon::kNone}};
  Wire* wire = hub ? hub->wire_of(*phone.device) : nullptr;
  if (wire != nullptr) {
    const bool offline = wire->offline();
    labels.push_back({prefix + "/online", offline ? "No network" : "Online",
                      offline ? Look::kChosen : Look::kPlain, Icon::kNone});
  }
  const int tapped = pen.buttons(labels);
  if (tapped == 2) wire->set_offline(!wire->offline());
  if (tapped == 0) {
    phone.text_size =
        kTextSizes[next_of(kTextSizes, [&](float size) { return size == phone.text_size; })];
  }
  if (tapped == 1) {
    const auto next = next_of(kSkews, [&](const Skew& s) { return s.ms == phone.device->skew(); });
    phone.device->set_skew(kSkews[next].ms);
  }
  pen.end();
}

/// Tab goes through all targets of all phones, in drawing order.
void Desk::move_focus() {
  std::vector<std::string> targets;
  for (const auto& phone : phones_) {
    for (const Seen& one : phone->seen.all()) {
      if (one.kind == SeenKind::kTarget) targets.push_back(phone->name + "|" + one.id);
    }
  }
  if (targets.empty()) return;
  const auto found = std::ranges::find(targets, hands.focus);
  const std::size_t count = targets.size();
  std::size_t at = hands.next ? 0 : count - 1;
  if (found != targets.end()) {
    at = static_cast<std::size_t>(found - targets.begin()) + (hands.next ? 1 : count - 1);
  }
  hands.focus = targets[at % count];
}

void Desk::draw() {
  hands.begin(was_down_);
  was_down_ = hands.down;
  if (hands.next || hands.previous) move_focus();
  if (hands.pressed) hands.writing.clear();
  seen.clear();
  for (const auto& phone : phones_) {
    if (const Wire* wire = hub ? hub->wire_of(*phone->device) : nullptr) {
      phone->sync_words = wire->trouble().empty() ? wire->state().text() : wire->trouble();
    }
    const Rect at = place_of(*phone);
    ImDrawList& list = *ImGui::GetBackgroundDrawList();
    list.AddRectFilled({at.left - 9, at.top - 9}, {at.right + 9, at.bottom + 9},
                       colour_of(0x17120e), 20);
    if (phone->wide) {
      draw_wide(*phone, type_, hands, at);
    } else {
      draw_phone(*phone, type_, hands, at);
    }
    list.AddRect({at.left - 5, at.top - 5}, {at.right + 5, at.bottom + 5}, colour_of(0x17120e), 16,
                 0, 11);
    draw_switches(*phone, {at.left, 0, std::min(at.right, at.left + kPhoneWidth_px), at.top - 12});
  }
  hands.end();
}

}  // namespace chipfall::window
