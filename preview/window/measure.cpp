#include "preview/window/measure.h"

#include <algorithm>
#include <chrono>
#include <ctime>
#include <ostream>
#include <vector>

#include <fmt/format.h>

#include "preview/window/script.h"

namespace chipfall::window {
namespace {

using Clock = std::chrono::steady_clock;

double ms_since(Clock::time_point begun) {
  return std::chrono::duration<double, std::milli>(Clock::now() - begun).count();
}

/// Of this process so far: what others on the machine do does not count.
double computing_ms() { return 1000.0 * static_cast<double>(std::clock()) / CLOCKS_PER_SEC; }

/// Median and worst of many.
void frames(const char* what, Stage& stage, std::ostream& out) {
  std::vector<double> took;
  for (int i = 0; i < 300; ++i) {
    const auto begun = Clock::now();
    stage.frame();
    took.push_back(ms_since(begun));
  }
  std::ranges::sort(took);
  out << fmt::format("{:40} {:6.2f} ms a frame, worst {:.2f} ms\n", what, took[took.size() / 2],
                     took.back());
}

proto::Session evening() {
  proto::Session session;
  session.set_people(3);
  session.set_leave_at("21:30");
  for (const char* machine : {"table-saw", "planer", "jointer", "band-saw", "orbital-sander"}) {
    proto::Use& use = *session.add_uses();
    use.set_machine(machine);
    use.set_minutes(20);
    use.set_stock("cherry");
  }
  return session;
}

}  // namespace

ProgramStart ProgramStart::now() {
  ProgramStart start;
  start.loading_ms = computing_ms();
  return start;
}

void ask_first_list(Desk& desk) {
  Phone& phone = *desk.phones().front();
  phone.member.draft = evening();
  phone.member.view = ListView::kAll;
  phone.screen = Screen::kList;
  phone.plan();
}

void measure(Desk& desk, Stage& stage, const ProgramStart& start, std::ostream& out) {
  Phone& phone = *desk.phones().front();
  settle(desk, stage);
  if (!phone.seen.says("Tools down by")) {
    out << "no list came: is --data the folder of the demo shop, as --demo makes it?\n";
    return;
  }
  out << fmt::format("{:40} {:6.1f} ms from the program's start, {:.1f} ms of it computing\n",
                     "first list drawn", start.loading_ms + ms_since(start.main), computing_ms());
  frames("the whole list", stage, out);
  phone.draw_map();
  phone.go(Screen::kMap);
  settle(desk, stage);
  frames("the map", stage, out);
}

}  // namespace chipfall::window
