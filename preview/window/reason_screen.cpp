#include "preview/window/screens.h"

namespace chipfall::window {
namespace {

constexpr std::size_t kMostReason_bytes = 200;

}  // namespace

void reason_screen(Pen& pen, Phone& phone) {
  if (pen.head("Pass it on", "reason/back")) return phone.back();
  pen.body(phone.scrolls[Screen::kReason]);
  trouble_part(pen, phone);
  pen.text(phone.passing_title, Face::kTitle);
  pen.gap(4);
  pen.text("That is fine: the next who comes sees it with your reason. Which is it?");
  pen.gap();
  for (const proto::Choice& reason : phone.shop.pass_on_reasons()) {
    if (pen.row("reason/" + reason.word(), reason.text(), "", Icon::kPass)) {
      phone.pass_on(reason.word());
    }
  }
  pen.gap(4);
  pen.text("Or in your own words", Face::kBold);
  pen.gap(4);
  pen.field("reason/own", "Tap and type", phone.own_reason, kMostReason_bytes);
  if (!phone.own_reason.empty() &&
      pen.button({"reason/say", "Pass on with these words", Look::kMain, Icon::kPass})) {
    phone.pass_on(phone.own_reason);
    phone.own_reason.clear();
  }
  pen.foot();
}

}  // namespace chipfall::window
