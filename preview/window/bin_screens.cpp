#include "preview/window/screens.h"

namespace chipfall::window {
namespace {

std::string bin_name(const Phone& phone) {
  for (const proto::Named& bin : phone.shop.bins()) {
    if (bin.id() == phone.bin) return bin.name();
  }
  return phone.bin;
}

}  // namespace

void bins_screen(Pen& pen, Phone& phone) {
  if (pen.head("Which bin?", "bins/back")) return phone.back();
  pen.body(phone.scrolls[Screen::kBins]);
  trouble_part(pen, phone);
  for (const proto::Named& bin : phone.shop.bins()) {
    if (pen.row("bins/" + bin.id(), bin.name(), "", Icon::kNext)) {
      phone.bin = bin.id();
      phone.saved.clear();
      phone.go(Screen::kBinSeen);
    }
  }
  pen.foot();
}

void bin_seen_screen(Pen& pen, Phone& phone) {
  if (pen.head(bin_name(phone), "bin/back")) return phone.back();
  pen.body(phone.scrolls[Screen::kBinSeen]);
  trouble_part(pen, phone);
  pen.text("How full is it?", Face::kTitle);
  pen.gap();
  for (const proto::Choice& look : phone.shop.bin_looks()) {
    if (!pen.row("bin/" + look.word(), look.text(), "", Icon::kNext)) continue;
    proto::Record what;
    what.mutable_bin_seen()->set_bin(phone.bin);
    what.mutable_bin_seen()->set_seen(look.word());
    phone.record(what, [](const proto::Recorded&) {});
  }
  if (pen.row("bin/emptied", "I have just emptied it", "With a mask and eye protection on",
              Icon::kCheck)) {
    proto::Record what;
    what.mutable_bin_emptied()->set_bin(phone.bin);
    phone.record(what, [](const proto::Recorded&) {});
  }
  if (!phone.saved.empty()) {
    pen.card(kCard, kLeaf);
    pen.text("Saved on this phone", Face::kBold, kLeaf);
    pen.text(phone.saved);
    pen.card_end();
  }
  pen.foot();
  if (pen.button({"bin/ready", "That is all", Look::kMain, Icon::kCheck})) {
    phone.saved.clear();
    phone.back();
  }
}

}  // namespace chipfall::window
