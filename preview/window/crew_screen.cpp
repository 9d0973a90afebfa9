#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/duty/say.h"
#include "core/shop/check_session.h"
#include "preview/terminal/sheet_words.h"
#include "preview/window/screens.h"

namespace chipfall::window {
namespace {

constexpr int kMostPeople = 12;  ///< on one list from a phone; the door takes more
constexpr int kDay_minutes = 24 * 60;

void when_part(Pen& pen, const proto::WindDown& list) {
  const proto::Finish& finish = list.finish();
  pen.card(kSanded, kWalnut);
  if (!finish.tools_down_by().empty()) {
    pen.text("Tools down by", Face::kTitle);
    pen.text(finish.tools_down_by(), Face::kHero);
    pen.text(fmt::format("{}to leave at {}", finish.day_before() ? "the evening before, " : "",
                         finish.leave_at()),
             Face::kBody);
    pen.gap(4);
  }
  pen.text(minutes_in_words(list));
  if (list.minimum_applied()) {
    pen.gap(4);
    pen.text(
        "The list is shorter than the shop's minimum: give the rest of the time to whatever "
        "looks dusty.");
  }
  if (!list.passed_on().empty()) {
    pen.gap(4);
    pen.text(fmt::format("{} of {} duties are passed on: the time has no room for them.",
                         list.passed_on_size(), list.duties_size()));
  }
  pen.card_end();
}

void leaving_part(Pen& pen, Phone& phone) {
  MemberState& member = phone.member;
  pen.card();
  pen.text("When do you leave?", Face::kBold);
  pen.gap(6);
  const int minute = minute_of_day(member.draft.leave_at()).value_or(21 * 60 + 30);
  const int step = pen.stepper("crew/leave", member.draft.leave_at(), {-15, -5, 5, 15},
                               {"-15", "-5", "+5", "+15"});
  if (step != 0) {
    const int then = (minute + step + kDay_minutes) % kDay_minutes;
    member.draft.set_leave_at(fmt::format("{:02}:{:02}", then / 60, then % 60));
    phone.plan();
  }
  pen.card_end();
}

void people_part(Pen& pen, Phone& phone) {
  MemberState& member = phone.member;
  pen.card();
  pen.text("How many of you clean up?", Face::kBold);
  pen.gap(6);
  const int people = std::max(1, member.draft.people());
  const int step =
      pen.stepper("crew/people", std::to_string(people), {-1, 1}, {"1 less", "1 more"});
  if (step != 0) {
    member.draft.set_people(std::clamp(people + step, 1, kMostPeople));
    phone.plan();
  }
  pen.card_end();
}

void little_time_part(Pen& pen, Phone& phone) {
  MemberState& member = phone.member;
  pen.card();
  pen.text("Time for cleaning", Face::kBold);
  pen.gap(6);
  const std::string value =
      member.within_minutes > 0 ? fmt::format("{:.0f} min", member.within_minutes) : "all it takes";
  const int step = pen.stepper("crew/within", value, {-5, 5}, {"5 less", "5 more"});
  if (step != 0) {
    double next = member.within_minutes + step;
    if (member.within_minutes == 0 && step < 0 && member.list) {
      // From "all it takes" down: the next lower step of what it would take.
      next = 5 * std::ceil(member.list->finish().minutes_p80() / 5 - 1);
    }
    if (member.within_minutes == 0 && step > 0) next = 0;
    member.within_minutes = next >= 5 && next <= 120 ? next : 0;
    phone.plan();
  }
  pen.card_end();
}

}  // namespace

void crew_screen(Pen& pen, Phone& phone) {
  MemberState& member = phone.member;
  if (pen.head("Who and when", "crew/back")) return phone.back();
  pen.body(phone.scrolls[Screen::kCrew]);
  trouble_part(pen, phone);
  if (member.list) when_part(pen, *member.list);
  if (!member.list) pen.text(waiting_words(phone));
  people_part(pen, phone);
  leaving_part(pen, phone);
  pen.card();
  if (pen.toggle("crew/rags", "Somebody wiped on oil or oil finish", member.draft.oily_rags())) {
    member.draft.set_oily_rags(!member.draft.oily_rags());
    phone.plan();
  }
  if (pen.toggle("crew/glue", "Somebody glued up", member.draft.glue())) {
    member.draft.set_glue(!member.draft.glue());
    phone.plan();
  }
  pen.card_end();
  little_time_part(pen, phone);
  pen.foot();
  const int tapped = pen.buttons({{"crew/map", "Where it fell", Look::kPlain, Icon::kMap},
                                  {"crew/list", "See the list", Look::kMain, Icon::kNext}});
  if (tapped == 0) {
    phone.draw_map();
    phone.go(Screen::kMap);
  }
  if (tapped == 1 && member.list) {
    member.at = 0;
    member.view = ListView::kAll;
    phone.go(Screen::kList);
  }
}

}  // namespace chipfall::window
