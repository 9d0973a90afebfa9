#include "preview/window/screens.h"

namespace chipfall::window {
namespace {

void part(Pen& pen, Phone& phone, int which) {
  if (which == 0) bins_part(pen, phone);
  if (which == 1) round_part(pen, phone);
  if (which == 2) notices_part(pen, phone);
  if (which == 3) minutes_part(pen, phone);
}

constexpr const char* kParts[] = {"Bins", "Round", "Notices", "Minutes"};

}  // namespace

void coordinator_screen(Pen& pen, Phone& phone) {
  CoordinatorState& state = phone.coordinator;
  if (pen.head(kParts[state.part], "coordinator/back")) return phone.home();
  pen.body(phone.scrolls[Screen::kCoordinator]);
  trouble_part(pen, phone);
  if (state.answer) {
    part(pen, phone, state.part);
  } else {
    pen.text(waiting_words(phone));
  }
  pen.foot();
  std::vector<Label> tabs;
  for (int i = 0; i < 4; ++i) {
    tabs.push_back({std::string("coordinator/") + kParts[i], kParts[i],
                    i == state.part ? Look::kChosen : Look::kPlain, Icon::kNone});
  }
  // Four words side by side are too much for large text: then two and two.
  const bool small = pen.text_size() < 1.2F;
  const int first = small ? pen.buttons(tabs) : pen.buttons({tabs[0], tabs[1]});
  const int second = small ? -1 : pen.buttons({tabs[2], tabs[3]});
  const int tapped = first >= 0 ? first : second >= 0 ? second + 2 : -1;
  if (tapped >= 0 && tapped != state.part) {
    state.part = tapped;
    phone.scrolls[Screen::kCoordinator].offset = 0;
  }
}

void draw_wide(Phone& phone, Type& type, Hands& hands, const Rect& at) {
  phone.seen.clear();
  const float each = at.width() / 4;
  for (int i = 0; i < 4; ++i) {
    const float left = at.left + static_cast<float>(i) * each;
    const Rect column{left, at.top, left + each, at.bottom};
    Pen pen(type, hands, phone.seen, column, phone.text_size, phone.name);
    if (i == 0 && phone.screen != Screen::kCoordinator) {
      draw_screen(pen, phone);
    } else {
      pen.head(kParts[i]);
      pen.body(phone.wide_scrolls[static_cast<std::size_t>(i)]);
      if (i == 0) trouble_part(pen, phone);
      if (phone.coordinator.answer) part(pen, phone, i);
      pen.foot();
    }
    pen.end();
  }
}

}  // namespace chipfall::window
