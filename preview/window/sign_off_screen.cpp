#include <algorithm>

#include <fmt/format.h>

#include "core/duty/say.h"
#include "preview/window/screens.h"

namespace chipfall::window {
namespace {

void close_shop(Phone& phone) {
  proto::Record what;
  std::string missing;
  for (const proto::SignOff& check : phone.closer.list->sign_off()) {
    if (phone.closer.signed_off.contains(check.id())) continue;
    if (!missing.empty()) missing += "; ";
    missing += check.title();
  }
  what.mutable_shop_closed()->set_note(missing.empty() ? "" : "not confirmed: " + missing);
  phone.record(what, [&phone](const proto::Recorded& recorded) {
    phone.closer.closed = recorded.text();
    phone.came_from.clear();
    phone.screen = Screen::kClosed;
  });
}

}  // namespace

void sign_off_screen(Pen& pen, Phone& phone) {
  CloserState& closer = phone.closer;
  if (!closer.list) return phone.back();
  if (pen.head("Before you say \"closed\"", "sign-off/back")) return phone.back();
  pen.body(phone.scrolls[Screen::kSignOff]);
  trouble_part(pen, phone);
  pen.text("Tap each one that you have seen with your own eyes.");
  pen.gap();
  int open = 0;
  for (const proto::SignOff& check : closer.list->sign_off()) {
    const bool seen = closer.signed_off.contains(check.id());
    const std::string words = seen ? "Seen" : "If it cannot be: " + check.if_not();
    if (pen.row("sign-off/" + check.id(), check.title(), words, seen ? Icon::kCheck : Icon::kDot,
                seen)) {
      if (seen) {
        closer.signed_off.erase(check.id());
      } else {
        closer.signed_off.insert(check.id());
      }
    }
    open += seen ? 0 : 1;
  }
  pen.foot();
  if (open == 0) {
    if (pen.button({"sign-off/close", "The shop is closed", Look::kDone, Icon::kCheck})) {
      close_shop(phone);
    }
    return;
  }
  pen.text(fmt::format("{} not seen yet. If it must be, close and tell the coordinator.", open),
           Face::kSmall, kSoftInk);
  pen.gap(6);
  if (pen.button({"sign-off/close", "Closed, with these open", Look::kDanger, Icon::kCare})) {
    close_shop(phone);
  }
}

void closed_screen(Pen& pen, Phone& phone) {
  pen.head("Good night");
  pen.body(phone.scrolls[Screen::kClosed]);
  trouble_part(pen, phone);
  pen.card(kCard, kLeaf);
  pen.text("Saved on this phone", Face::kBold, kLeaf);
  pen.text(phone.closer.closed);
  pen.gap(6);
  pen.text(phone.saving.text());
  if (!phone.sync_words.empty()) pen.named("With the hub", phone.sync_words);
  pen.card_end();
  pen.text("Thank you for closing up.", Face::kTitle);
  pen.foot();
  if (pen.button({"closed/home", "Home", Look::kMain, Icon::kCheck})) {
    phone.closer = CloserState{};
    phone.home();
  }
}

}  // namespace chipfall::window
