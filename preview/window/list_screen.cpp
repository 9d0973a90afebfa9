#include <algorithm>

#include <fmt/format.h>

#include "preview/terminal/sheet_words.h"
#include "preview/window/duty_card.h"

namespace chipfall::window {
namespace {

std::string ending_of(const MemberState& member, const proto::Duty& duty) {
  const auto found = member.ended.find(duty.id());
  if (found != member.ended.end()) return found->second;
  return duty.passed_on() ? "passed on" : duty.done() ? "done" : "";
}

int count_ended(const MemberState& member) {
  return static_cast<int>(std::ranges::count_if(
      member.list->duties(),
      [&](const proto::Duty& duty) { return !ending_of(member, duty).empty(); }));
}

/// The next one that is open, from `from` on and then from the beginning; -1: none is.
int next_open(const MemberState& member, int from) {
  const int count = member.list->duties_size();
  for (int i = 0; i < count; ++i) {
    const int at = (from + i) % count;
    if (ending_of(member, member.list->duties(at)).empty()) return at;
  }
  return -1;
}

void ended(Phone& phone, const std::string& duty, const std::string& how) {
  MemberState& member = phone.member;
  member.ended[duty] = how;
  const int next = next_open(member, member.at);
  if (next < 0) {
    phone.screen = Screen::kFinish;
    return;
  }
  member.at = next;
  phone.scrolls[Screen::kList].offset = 0;
}

proto::DutyName name_of(const MemberState& member, const proto::Duty& duty) {
  proto::DutyName name;
  name.set_id(duty.id());
  *name.mutable_session() = member.session;
  return name;
}

void tick_off(Phone& phone, const proto::Duty& duty) {
  proto::Record what;
  *what.mutable_done()->mutable_duty() = name_of(phone.member, duty);
  what.mutable_done()->set_people(duty.people());
  if (phone.member.timed.duty == duty.id()) {
    const auto minutes = minutes_of(phone.member.timed, duty.minutes(), phone.device->now_ms());
    if (minutes) what.mutable_done()->set_minutes(*minutes);
  }
  phone.record(what,
               [&phone, id = duty.id()](const proto::Recorded&) { ended(phone, id, "done"); });
}

void not_needed(Phone& phone, const proto::Duty& duty) {
  proto::Record what;
  *what.mutable_not_needed()->mutable_duty() = name_of(phone.member, duty);
  if (!phone.shop.not_needed_reasons().empty()) {
    what.mutable_not_needed()->set_reason(phone.shop.not_needed_reasons(0).word());
  }
  phone.record(
      what, [&phone, id = duty.id()](const proto::Recorded&) { ended(phone, id, "not needed"); });
}

void pass_on(Phone& phone, const proto::Duty& duty) {
  phone.passing_title = duty.title();
  phone.pass_on = [&phone, id = duty.id(),
                   name = name_of(phone.member, duty)](const std::string& reason) {
    proto::Record what;
    *what.mutable_passed_on()->mutable_duty() = name;
    what.mutable_passed_on()->set_reason(reason);
    phone.record(what, [&phone, id](const proto::Recorded&) {
      phone.back();
      ended(phone, id, "passed on");
    });
  };
  phone.go(Screen::kReason);
}

void reopen(Phone& phone, const proto::Duty& duty) {
  proto::Record what;
  *what.mutable_reopened()->mutable_duty() = name_of(phone.member, duty);
  what.mutable_reopened()->set_reason("tapped by mistake");
  phone.record(what, [&phone, id = duty.id()](const proto::Recorded&) {
    phone.member.ended.erase(id);
    phone.member.timed = {};
  });
}

void dirtier(Phone& phone, const proto::Duty& duty) {
  proto::Record what;
  what.mutable_zone_seen()->set_zone(duty.zone());
  what.mutable_zone_seen()->set_seen("dirtier");
  phone.record(
      what, [&phone, id = duty.id()](const proto::Recorded&) { phone.member.dirtier.insert(id); });
}

void begin(Phone& phone) {
  proto::Record what;
  *what.mutable_session()->mutable_draft() = phone.member.draft;
  if (phone.member.within_minutes > 0) {
    what.mutable_session()->set_within_minutes(phone.member.within_minutes);
  }
  phone.record(what, [&phone](const proto::Recorded& recorded) {
    MemberState& member = phone.member;
    member.list = recorded.list();
    member.session = recorded.entry();
    member.started = true;
    member.ended.clear();
    member.dirtier.clear();
    member.timed = {};
    member.view = ListView::kOne;
    member.at = std::max(0, next_open(member, 0));
    phone.came_from.clear();
    phone.scrolls[Screen::kList].offset = 0;
  });
}

void head_part(Pen& pen, const MemberState& member) {
  const proto::WindDown& list = *member.list;
  if (member.started) {
    const int done = count_ended(member);
    progress_part(pen, fmt::format("{} of {} are settled", done, list.duties_size()), done,
                  list.duties_size());
    return;
  }
  if (!list.finish().tools_down_by().empty()) {
    pen.text(fmt::format("Tools down by {}", list.finish().tools_down_by()), Face::kFigure);
  }
  pen.text(minutes_in_words(list));
  pen.gap(6);
}

void one_part(Pen& pen, Phone& phone) {
  MemberState& member = phone.member;
  const int count = member.list->duties_size();
  member.at = std::clamp(member.at, 0, std::max(0, count - 1));
  const proto::Duty& duty = member.list->duties(member.at);
  DutyWords words;
  words.counted = fmt::format("{} of {}", member.at + 1, count);
  words.title = duty.title();
  words.when = duty_minutes(duty.minutes(), duty.people());
  words.tool = duty.tool_name();
  if (duty.title().find(duty.place()) == std::string::npos) words.place = duty.place();
  words.steps.assign(duty.steps().begin(), duty.steps().end());
  words.why = duty.why();
  words.caution = duty.caution();
  words.ending = ending_of(member, duty);
  duty_card(pen, words);
  if (member.started && words.ending.empty()) {
    begin_timed(member.timed, duty.id(), phone.device->now_ms());
    timed_part(pen, "list/minutes", member.timed, duty.minutes(), phone.device->now_ms());
  }
  if (member.started && !duty.zone().empty()) {
    if (member.dirtier.contains(duty.id())) {
      pen.text("Noted: dirtier than the list says. Thank you.", Face::kBold, kSoftInk);
      pen.gap();
    } else if (pen.button({"list/dirtier", "Dirtier than it says", Look::kPlain, Icon::kNone})) {
      dirtier(phone, duty);
    }
  }
  if (!duty.bin().empty() &&
      pen.button({"list/bin", "Say how full the bin is", Look::kPlain, Icon::kBin})) {
    phone.bin = duty.bin();
    phone.go(Screen::kBinSeen);
  }
  const int step = pen.buttons({{"list/earlier", "Earlier", Look::kPlain, Icon::kBack},
                                {"list/later", "Later", Look::kPlain, Icon::kNext}});
  if (step >= 0) {
    member.at = (member.at + (step == 0 ? count - 1 : 1)) % count;
    phone.scrolls[Screen::kList].offset = 0;
  }
}

void all_part(Pen& pen, Phone& phone) {
  MemberState& member = phone.member;
  std::string phase;
  int at = -1;
  for (const proto::Duty& duty : member.list->duties()) {
    ++at;
    if (duty.phase() != phase) {
      phase = duty.phase();
      pen.heading(phase_heading(phase));
    }
    std::string words = duty_minutes(duty.minutes(), duty.people());
    if (!duty.tool_name().empty()) words += fmt::format(", with {}", duty.tool_name());
    if (!duty_row(pen, fmt::format("list/row/{}", duty.id()), duty.order(), duty.title(), words,
                  ending_of(member, duty))) {
      continue;
    }
    member.at = at;
    member.view = ListView::kOne;
    phone.scrolls[Screen::kList].offset = 0;
  }
  for (const proto::PassedOn& passed : member.list->passed_on()) {
    pen.named("Passed on", fmt::format("{}: {}", passed.title(), passed.reason()));
  }
  if (member.list->finish().over_minutes() > 0) {
    pen.gap();
    pen.care("What is for safety stays on the list, though it may take longer than there is.",
             "More than the time given");
  }
  pen.gap();
  pen.cares({member.list->cautions().begin(), member.list->cautions().end()});
}

void one_foot(Pen& pen, Phone& phone) {
  const proto::Duty& duty = phone.member.list->duties(phone.member.at);
  const std::string ending = ending_of(phone.member, duty);
  if (!ending.empty()) {
    const int tapped = pen.buttons({{"list/reopen", "It is open again", Look::kPlain, Icon::kNone},
                                    {"list/finish", "Finish", Look::kMain, Icon::kNext}});
    if (tapped == 0) reopen(phone, duty);
    if (tapped == 1) phone.go(Screen::kFinish);
    return;
  }
  if (pen.button({"list/done", "Done", Look::kDone, Icon::kCheck})) return tick_off(phone, duty);
  const int tapped = pen.buttons({{"list/pass", "Pass on", Look::kPlain, Icon::kPass},
                                  {"list/not-needed", "Not needed", Look::kPlain, Icon::kNone}});
  if (tapped == 0) pass_on(phone, duty);
  if (tapped == 1) not_needed(phone, duty);
}

}  // namespace

void list_screen(Pen& pen, Phone& phone) {
  MemberState& member = phone.member;
  const bool back = pen.head(member.started ? "Your list" : "What it will be", "list/back");
  if (back) return member.started ? phone.home() : phone.back();
  pen.body(phone.scrolls[Screen::kList]);
  trouble_part(pen, phone);
  if (!member.list || member.list->duties().empty()) {
    pen.text(member.list ? "Nothing is owed. Thank you." : waiting_words(phone));
    pen.foot();
    if (pen.button({"list/finish", "Finish", Look::kMain, Icon::kNext})) phone.go(Screen::kFinish);
    return;
  }
  head_part(pen, member);
  std::vector<std::string> views{"One", "All"};
  if (member.list->lanes_size() > 1) views.emplace_back("Who");
  const int view = pen.choice("list/view", views, static_cast<int>(member.view));
  if (view >= 0) member.view = static_cast<ListView>(view);
  pen.gap(4);
  if (member.view == ListView::kOne) one_part(pen, phone);
  if (member.view == ListView::kAll) all_part(pen, phone);
  if (member.view == ListView::kLanes)
    lanes_part(pen, member.list->lanes(), member.list->sharing());
  pen.foot();
  if (!member.started) {
    if (pen.button({"list/begin", "Tools are down: begin", Look::kMain, Icon::kCheck}))
      begin(phone);
  } else if (member.view == ListView::kOne) {
    one_foot(pen, phone);
  } else if (pen.button({"list/finish", "Finish", Look::kMain, Icon::kNext})) {
    phone.go(Screen::kFinish);
  }
}

void finish_screen(Pen& pen, Phone& phone) {
  MemberState& member = phone.member;
  if (pen.head("Finished?", "finish/back")) {
    phone.screen = Screen::kList;
    return;
  }
  pen.body(phone.scrolls[Screen::kFinish]);
  trouble_part(pen, phone);
  std::map<std::string, int> counts;
  std::vector<std::string> open;
  if (member.list) {
    for (const proto::Duty& duty : member.list->duties()) {
      const std::string ending = ending_of(member, duty);
      ++counts[ending];
      if (ending.empty()) open.push_back(fmt::format("{}. {}", duty.order(), duty.title()));
    }
  }
  pen.card();
  pen.text(open.empty() ? "Everything is settled. Thank you." : "Thank you for what you did.",
           Face::kTitle);
  pen.gap(4);
  pen.named(std::to_string(counts["done"]), "done");
  pen.named(std::to_string(counts["passed on"]), "passed on to the next who comes");
  pen.named(std::to_string(counts["not needed"]), "not needed");
  pen.named(std::to_string(open.size()), "still open");
  pen.card_end();
  pen.card();
  pen.text("Saved on this phone", Face::kBold);
  pen.text(phone.saving.text());
  if (!phone.sync_words.empty()) pen.named("With the hub", phone.sync_words);
  pen.card_end();
  if (!open.empty()) {
    pen.text("Still open: they wait for the next who comes.", Face::kBold);
    pen.gap(4);
    for (const std::string& title : open) pen.bullet(title);
  }
  pen.foot();
  const int tapped = pen.buttons({{"finish/list", "Back to the list", Look::kPlain, Icon::kBack},
                                  {"finish/home", "We are off", Look::kMain, Icon::kCheck}});
  if (tapped == 0) phone.screen = Screen::kList;
  if (tapped == 1) {
    member = MemberState{};
    member.draft.set_people(1);
    member.draft.set_leave_at("21:30");
    phone.home();
  }
}

}  // namespace chipfall::window
