#include "preview/window/screens.h"

namespace chipfall::window {

void draw_screen(Pen& pen, Phone& phone) {
  switch (phone.screen) {
    case Screen::kHome:
      return home_screen(pen, phone);
    case Screen::kMachines:
      return machines_screen(pen, phone);
    case Screen::kUse:
      return use_screen(pen, phone);
    case Screen::kStock:
      return stock_screen(pen, phone);
    case Screen::kCrew:
      return crew_screen(pen, phone);
    case Screen::kList:
      return list_screen(pen, phone);
    case Screen::kReason:
      return reason_screen(pen, phone);
    case Screen::kBins:
      return bins_screen(pen, phone);
    case Screen::kBinSeen:
      return bin_seen_screen(pen, phone);
    case Screen::kFinish:
      return finish_screen(pen, phone);
    case Screen::kMap:
      return map_screen(pen, phone);
    case Screen::kEvening:
      return evening_screen(pen, phone);
    case Screen::kRoute:
      return route_screen(pen, phone);
    case Screen::kSignOff:
      return sign_off_screen(pen, phone);
    case Screen::kClosed:
      return closed_screen(pen, phone);
    case Screen::kCoordinator:
      return coordinator_screen(pen, phone);
    case Screen::kHistory:
      return history_screen(pen, phone);
  }
}

void draw_phone(Phone& phone, Type& type, Hands& hands, const Rect& at) {
  phone.seen.clear();
  Pen pen(type, hands, phone.seen, at, phone.text_size, phone.name);
  draw_screen(pen, phone);
  pen.end();
}

}  // namespace chipfall::window
