#include <algorithm>

#include <fmt/format.h>

#include "preview/window/screens.h"

namespace chipfall::window {
namespace {

std::string standing_words(const proto::Standing& standing) {
  const auto passed = std::ranges::count_if(standing.duties(), [](const proto::StandingDuty& duty) {
    return duty.ending() == "passed on";
  });
  const auto open = standing.duties_size() - passed;
  if (open == 0 && passed == 0) return "Nothing is left over from earlier sessions.";
  return fmt::format("Waiting in the shop: {} open, {} passed on.", open, passed);
}

void saving_part(Pen& pen, const Phone& phone) {
  pen.card();
  pen.text("On this phone", Face::kBold);
  pen.text(phone.saving.text());
  if (!phone.sync_words.empty()) pen.named("With the hub", phone.sync_words);
  for (const proto::Mistake& mistake : phone.saving.sheet_mistakes()) pen.text(mistake.message());
  pen.card_end();
}

}  // namespace

void home_screen(Pen& pen, Phone& phone) {
  pen.head(phone.shop.shop().empty() ? "Chipfall" : phone.shop.shop());
  pen.body(phone.scrolls[Screen::kHome]);
  trouble_part(pen, phone);
  if (phone.member.started) {
    pen.text("Your list is under way.", Face::kBold);
    pen.gap(6);
    if (pen.button({"home/list", "Go on with the list", Look::kMain, Icon::kNext})) {
      phone.go(Screen::kList);
    }
    pen.gap();
  }
  pen.text("What are you here for?", Face::kTitle);
  pen.gap();
  if (pen.row("home/member", "We are ending our session", "What to clean, sized to what you ran",
              Icon::kNext)) {
    phone.go(Screen::kMachines);
  }
  if (pen.row("home/bin", "I looked into a bin", "Full, half full, or it draws badly",
              Icon::kBin)) {
    phone.go(Screen::kBins);
  }
  if (pen.row("home/closer", "I am closing the shop", "The way round, and what to check",
              Icon::kNext)) {
    phone.go(Screen::kEvening);
  }
  if (pen.row("home/coordinator", "I coordinate the shop", "Bins, the round, notices, minutes",
              Icon::kNext)) {
    phone.ask_coordinator();
    phone.go(Screen::kCoordinator);
  }
  if (pen.row("home/history", "What was recorded", "Newest first", Icon::kNext)) {
    phone.ask_history();
    phone.go(Screen::kHistory);
  }
  pen.gap(6);
  pen.text(standing_words(phone.standing));
  for (const proto::OutNotice& out : phone.standing.machines_out()) {
    pen.gap(6);
    pen.care(fmt::format("Since {}: {}.", out.since(), out.reason()),
             fmt::format("{} is out of order", out.name()));
  }
  pen.gap();
  saving_part(pen, phone);
  pen.foot();
}

}  // namespace chipfall::window
