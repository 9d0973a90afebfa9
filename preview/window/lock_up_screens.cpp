#include <algorithm>

#include <fmt/format.h>

#include "core/duty/say.h"
#include "preview/terminal/sheet_words.h"
#include "preview/window/duty_card.h"

namespace chipfall::window {
namespace {

constexpr int kDay_minutes = 24 * 60;
constexpr int kMostPeople = 8;
/// Less than this needs no figure beside it.
constexpr double kAMoment_minutes = 0.75;

std::string ending_of(const CloserState& closer, const proto::ClosingDuty& duty) {
  const auto found = closer.ended.find(duty.id());
  if (found != closer.ended.end()) return found->second;
  return duty.passed_on() ? "passed on" : duty.done() ? "done" : "";
}

int next_open(const CloserState& closer, int from) {
  const int count = closer.list->duties_size();
  for (int i = 0; i < count; ++i) {
    const int at = (from + i) % count;
    if (ending_of(closer, closer.list->duties(at)).empty()) return at;
  }
  return -1;
}

void ended(Phone& phone, const std::string& duty, const std::string& how) {
  CloserState& closer = phone.closer;
  closer.ended[duty] = how;
  closer.as_of = phone.device->changes();
  const int next = next_open(closer, closer.at);
  if (next < 0) {
    phone.go(Screen::kSignOff);
    return;
  }
  closer.at = next;
  phone.scrolls[Screen::kRoute].offset = 0;
}

/// The duty ends on every list that owes it, one entry each: `rest` counts down. The building's own
/// is owed by none.
using Put = std::function<void(proto::Record& what, const proto::DutyName& name)>;
void end_each(Phone& phone, const proto::ClosingDuty& duty, int from, const std::string& how,
              const Put& put) {
  proto::DutyName name;
  name.set_id(duty.id());
  if (duty.owed_by_size() > 0) {
    const proto::OwedBy& owed = duty.owed_by(from);
    name.set_id(owed.duty());
    name.mutable_session()->set_device(owed.device());
    name.mutable_session()->set_sequence(owed.sequence());
  }
  proto::Record what;
  put(what, name);
  phone.record(what, [&phone, duty, from, how, put](const proto::Recorded&) {
    if (from + 1 < duty.owed_by_size()) return end_each(phone, duty, from + 1, how, put);
    if (phone.screen == Screen::kReason) phone.back();
    ended(phone, duty.id(), how);
  });
}

void tick_off(Phone& phone, const proto::ClosingDuty& duty) {
  std::optional<double> minutes;
  if (phone.closer.timed.duty == duty.id()) {
    minutes = minutes_of(phone.closer.timed, duty.minutes(), phone.device->now_ms());
  }
  end_each(phone, duty, 0, "done",
           [people = duty.people(), minutes](auto& what, const auto& name) mutable {
             *what.mutable_done()->mutable_duty() = name;
             what.mutable_done()->set_people(people);
             // Done once, though several lists owe it: the estimates hear of it once.
             if (minutes) what.mutable_done()->set_minutes(*minutes);
             minutes.reset();
           });
}

void pass_on(Phone& phone, const proto::ClosingDuty& duty) {
  phone.passing_title = duty.title();
  phone.pass_on = [&phone, duty](const std::string& reason) {
    end_each(phone, duty, 0, "passed on", [reason](auto& what, const auto& name) {
      *what.mutable_passed_on()->mutable_duty() = name;
      what.mutable_passed_on()->set_reason(reason);
    });
  };
  phone.go(Screen::kReason);
}

void one_part(Pen& pen, Phone& phone) {
  CloserState& closer = phone.closer;
  const int count = closer.list->duties_size();
  closer.at = std::clamp(closer.at, 0, std::max(0, count - 1));
  const proto::ClosingDuty& duty = closer.list->duties(closer.at);
  DutyWords words;
  words.counted = fmt::format("{} of {} on your way{}", closer.at + 1, count,
                              duty.building() ? "" : ", left over from an earlier list");
  words.title = duty.title();
  words.when = duty.minutes() >= kAMoment_minutes ? duty_minutes(duty.minutes(), duty.people())
                                                  : "half a minute";
  words.tool = duty.tool_name();
  if (duty.title().find(duty.place()) == std::string::npos) words.place = duty.place();
  words.steps.assign(duty.steps().begin(), duty.steps().end());
  words.why = duty.since().empty() ? duty.why() : duty.since();
  words.caution = duty.caution();
  words.ending = ending_of(closer, duty);
  duty_card(pen, words);
  if (words.ending.empty()) {
    begin_timed(closer.timed, duty.id(), phone.device->now_ms());
    timed_part(pen, "route/minutes", closer.timed, duty.minutes(), phone.device->now_ms());
  }
  const int step = pen.buttons({{"route/earlier", "Earlier", Look::kPlain, Icon::kBack},
                                {"route/later", "Later", Look::kPlain, Icon::kNext}});
  if (step >= 0) {
    closer.at = (closer.at + (step == 0 ? count - 1 : 1)) % count;
    phone.scrolls[Screen::kRoute].offset = 0;
  }
}

void all_part(Pen& pen, Phone& phone) {
  CloserState& closer = phone.closer;
  int at = -1;
  for (const proto::ClosingDuty& duty : closer.list->duties()) {
    ++at;
    std::string words = duty.building() ? duty.place() : duty.since();
    if (duty.building() && duty.steps_size() > 0) {
      words = join({duty.steps().begin(), duty.steps().end()});
    }
    if (!duty_row(pen, fmt::format("route/row/{}", duty.id()), duty.order(), duty.title(), words,
                  ending_of(closer, duty))) {
      continue;
    }
    closer.at = at;
    closer.view = ListView::kOne;
    phone.scrolls[Screen::kRoute].offset = 0;
  }
}

std::string route_words(const proto::LockUp& list) {
  const proto::Finish& finish = list.finish();
  std::string out =
      fmt::format("About {} for {}, {} of it walking.", say_minutes(finish.minutes_median()),
                  people_in_words(list.people()), say_half_minutes(list.walk_minutes()));
  if (!finish.done_by().empty()) {
    out += fmt::format(" Closed by {} on four evenings in five.", finish.done_by());
  }
  return out;
}

}  // namespace

void evening_screen(Pen& pen, Phone& phone) {
  CloserState& closer = phone.closer;
  if (pen.head("Closing the shop", "evening/back")) return phone.back();
  pen.body(phone.scrolls[Screen::kEvening]);
  trouble_part(pen, phone);
  pen.text("What was passed on, and the building's own duties, in walking order.");
  pen.gap();
  pen.card();
  pen.text("How many of you?", Face::kBold);
  pen.gap(6);
  const int people =
      pen.stepper("evening/people", std::to_string(closer.people), {-1, 1}, {"1 less", "1 more"});
  closer.people = std::clamp(closer.people + people, 1, kMostPeople);
  pen.card_end();
  pen.card();
  pen.text("You begin at", Face::kBold);
  pen.gap(6);
  const int step =
      pen.stepper("evening/begin",
                  fmt::format("{:02}:{:02}", closer.begin_minute / 60, closer.begin_minute % 60),
                  {-15, -5, 5, 15}, {"-15", "-5", "+5", "+15"});
  closer.begin_minute = (closer.begin_minute + step + kDay_minutes) % kDay_minutes;
  pen.card_end();
  pen.foot();
  if (pen.button({"evening/route", "Show the way round", Look::kMain, Icon::kNext})) {
    closer.list.reset();
    closer.ended.clear();
    closer.signed_off.clear();
    closer.at = 0;
    closer.view = ListView::kOne;
    phone.ask_lock_up();
    phone.go(Screen::kRoute);
  }
}

void route_screen(Pen& pen, Phone& phone) {
  CloserState& closer = phone.closer;
  if (pen.head("The way round", "route/back")) return phone.back();
  pen.body(phone.scrolls[Screen::kRoute]);
  trouble_part(pen, phone);
  if (!closer.list || closer.list->duties().empty()) {
    pen.text(closer.list ? "There is nothing to close here." : waiting_words(phone));
    return pen.foot();
  }
  int done = 0;
  for (const auto& duty : closer.list->duties()) done += ending_of(closer, duty).empty() ? 0 : 1;
  progress_part(pen, fmt::format("{} of {} are settled", done, closer.list->duties_size()), done,
                closer.list->duties_size());
  if (closer.as_of != phone.device->changes() && !phone.recording) {
    pen.text("Somebody recorded something since this list was made.");
    pen.gap(4);
    if (pen.button({"route/anew", "Make the list anew", Look::kPlain, Icon::kNone})) {
      phone.ask_lock_up();
    }
  }
  std::vector<std::string> views{"One", "All"};
  if (closer.list->lanes_size() > 1) views.emplace_back("Who");
  const int view = pen.choice("route/view", views, static_cast<int>(closer.view));
  if (view >= 0) closer.view = static_cast<ListView>(view);
  pen.gap(4);
  if (closer.view == ListView::kOne) one_part(pen, phone);
  if (closer.view == ListView::kAll) {
    pen.text(route_words(*closer.list), Face::kBody, kSoftInk);
    pen.gap(6);
    all_part(pen, phone);
    pen.gap();
    pen.cares({closer.list->cautions().begin(), closer.list->cautions().end()});
  }
  if (closer.view == ListView::kLanes) lanes_part(pen, closer.list->lanes(), "");
  pen.foot();
  const proto::ClosingDuty& duty =
      closer.list->duties(std::min(closer.at, closer.list->duties_size() - 1));
  if (closer.view != ListView::kOne || !ending_of(closer, duty).empty()) {
    if (pen.button({"route/sign-off", "Checks before you go", Look::kMain, Icon::kNext})) {
      phone.go(Screen::kSignOff);
    }
    return;
  }
  if (pen.button({"route/done", "Done", Look::kDone, Icon::kCheck})) return tick_off(phone, duty);
  const int tapped = pen.buttons({{"route/pass", "Pass on", Look::kPlain, Icon::kPass},
                                  {"route/checks", "Checks", Look::kPlain, Icon::kNone}});
  if (tapped == 0) pass_on(phone, duty);
  if (tapped == 1) phone.go(Screen::kSignOff);
}

}  // namespace chipfall::window
