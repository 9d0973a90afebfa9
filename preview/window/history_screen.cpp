#include <fmt/format.h>

#include "preview/window/screens.h"

namespace chipfall::window {

void history_screen(Pen& pen, Phone& phone) {
  if (pen.head("What was recorded", "history/back")) return phone.back();
  pen.body(phone.scrolls[Screen::kHistory]);
  trouble_part(pen, phone);
  if (phone.history.lines().empty()) pen.text("Nothing yet.");
  std::string day;
  for (const proto::HistoryLine& line : phone.history.lines()) {
    if (line.day() != day) {
      day = line.day();
      pen.heading(day);
    }
    std::string words = line.text();
    if (!line.member().empty()) words += fmt::format(" ({})", line.member());
    if (line.doubtful()) words += ". The clock it was written by cannot be right.";
    pen.named(line.time(), words);
    pen.gap(6);
  }
  pen.foot();
}

}  // namespace chipfall::window
