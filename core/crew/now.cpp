#include "core/crew/now.h"

#include <algorithm>

#include "core/proto/session.pb.h"
#include "core/shop/check_session.h"
#include "core/shop/mistakes.h"
#include "core/shop/read_text.h"

namespace chipfall {
namespace {

constexpr int kMostPeople = 50;
constexpr double kDay_minutes = 1440;

std::vector<std::string> names_of(const proto::CrewNow& now, const Session& session,
                                  const Shop& shop) {
  std::vector<std::string> names;
  for (const proto::CrewMember& member : now.people()) names.push_back(member.name());
  if (!names.empty()) return names;
  for (const Person& person : crew_of(shop, session.people).people) names.push_back(person.name);
  return names;
}

void check_people(const Spot& at, const proto::CrewNow& now) {
  if (!check_length(at, "people", now.people_size(), kMostPeople)) return;
  for (int i = 0; i < now.people_size(); ++i) {
    const proto::CrewMember& member = now.people(i);
    const Spot here = at.entry("people", i);
    if (member.name().empty()) here["name"].mistake("missing: give a name to tell people apart");
    for (int j = 0; j < i; ++j) {
      if (now.people(j).name() == member.name() && !member.name().empty()) {
        here["name"].mistake("the name " + in_quotes(member.name()) + " is taken already");
      }
    }
    check_range(here["from_minute"], member.from_minute(), 0, kDay_minutes, "min");
    if (!member.has_until_minute()) continue;
    check_range(here["until_minute"], member.until_minute(), member.from_minute(), kDay_minutes,
                "min");
  }
}

Errors check_now(const proto::CrewNow& now, const Shop& shop, const Session& session,
                 const WindDown& list) {
  Errors errors;
  const Spot at(errors);
  Known duties{"a duty", {}};
  for (const Duty& duty : list.duties) duties.ids.push_back(duty.id);
  Known tools{"a cleaning tool", {}};
  for (const CleaningTool& tool : shop.tools) tools.ids.push_back(tool.id);
  const Known people{"one of the crew", names_of(now, session, shop)};
  if (!now.clock().empty() && !minute_of_day(now.clock())) {
    at["clock"].mistake(in_quotes(now.clock()) + " is not a time; give HH:MM, 00:00 to 23:59");
  }
  check_people(at, now);
  for (int i = 0; i < now.done_size(); ++i) {
    check_reference(at.entry("done", i), now.done(i), duties);
  }
  for (int i = 0; i < now.broken_tools_size(); ++i) {
    check_reference(at.entry("broken_tools", i), now.broken_tools(i), tools);
  }
  for (int i = 0; i < now.under_way_size(); ++i) {
    const proto::DutyUnderWay& under_way = now.under_way(i);
    const Spot here = at.entry("under_way", i);
    check_reference(here["duty"], under_way.duty(), duties);
    check_range(here["minutes_left"], under_way.minutes_left(), 0, kDay_minutes, "min");
    if (!under_way.tool().empty()) check_reference(here["tool"], under_way.tool(), tools);
    if (under_way.people().empty()) here["people"].mistake("missing: say who is at it");
    const bool is_done = std::ranges::find(now.done(), under_way.duty()) != now.done().end();
    if (is_done) here["duty"].mistake("done and under way at once; leave one out");
    for (int j = 0; j < i; ++j) {
      if (now.under_way(j).duty() == under_way.duty()) {
        here["duty"].mistake("under way twice; name all its people in one entry");
      }
    }
    for (int p = 0; p < under_way.people_size(); ++p) {
      check_reference(here.entry("people", p), under_way.people(p), people);
    }
  }
  return errors;
}

Index name_index(const Crew& crew, const std::string& name) {
  const auto it = std::ranges::find(crew.people, name, &Person::name);
  return it == crew.people.end() ? kNone : static_cast<Index>(it - crew.people.begin());
}

CrewNow build_now(const proto::CrewNow& now, const Shop& shop, const Session& session,
                  const WindDown& list) {
  CrewNow out;
  out.clock_minute = now.clock().empty() ? std::nullopt : minute_of_day(now.clock());
  out.crew = crew_of(shop, now.people().empty() ? session.people : now.people_size());
  for (int i = 0; i < now.people_size(); ++i) {
    Person& person = out.crew.people[static_cast<size_t>(i)];
    person.name = now.people(i).name();
    person.from_minute = now.people(i).from_minute();
    if (now.people(i).has_until_minute()) person.until_minute = now.people(i).until_minute();
  }
  out.done.assign(now.done().begin(), now.done().end());
  for (const std::string& tool : now.broken_tools()) {
    out.crew.usable[static_cast<size_t>(index_of(shop.tools, tool))] = false;
  }
  for (const proto::DutyUnderWay& under_way : now.under_way()) {
    UnderWay put;
    put.duty = index_of(list.duties, under_way.duty());
    put.left_minutes = under_way.minutes_left();
    if (!under_way.tool().empty()) put.tool = index_of(shop.tools, under_way.tool());
    for (const std::string& name : under_way.people()) {
      put.people.push_back(name_index(out.crew, name));
    }
    out.crew.under_way.push_back(std::move(put));
  }
  return out;
}

}  // namespace

Result<CrewNow> load_crew_now(const Text& text, const Shop& shop, const Session& session,
                              const WindDown& list) {
  proto::CrewNow now;
  Reading reading = read_message(text, now);
  if (!reading.complete) return tl::unexpected(reading.errors);
  for (Error& error : check_now(now, shop, session, list)) {
    error.place = reading.place(error.place.path);
    reading.errors.push_back(std::move(error));
  }
  if (!reading.errors.empty()) return tl::unexpected(std::move(reading.errors));
  return build_now(now, shop, session, list);
}

}  // namespace chipfall
