#include <algorithm>

#include <fmt/format.h>

#include "core/door/recording.h"
#include "core/duty/taken.h"

/// How duties end, and the end of the evening.
namespace chipfall {
namespace {

constexpr double kDay_minutes = 1440;
constexpr int kMostPeople = 50;
/// Names of open duties that have room in one entry; a shop with more has other worries.
constexpr int kMostOpen = 400;
/// Lists looked at for one that has a duty to open again: a fortnight of a busy shop.
constexpr std::size_t kMostListsBack = 100;

/// Duties that belong to the building, whoever was there: they have no session behind them.
Known building_duties(const Shop& shop) {
  Known out{"a duty of the building", {}};
  for (const StandardDuty& duty : shop.duties) {
    if (duty.when == When::kLockUp) out.ids.push_back(duty.id);
  }
  for (const Bin& bin : shop.bins) out.ids.push_back(fmt::format("empty-bin:{}", bin.id));
  return out;
}

bool of_building(const Shop& shop, std::string_view id) {
  // "lock-door:north" is the duty "lock-door" about one place.
  return building_duties(shop).has(id) || building_duties(shop).has(id.substr(0, id.find(':')));
}

/// Where the shell names the session, its list must have the duty.
std::optional<StandingDuty> on_named_list(Recording& now, const Spot& at,
                                          const proto::DutyName& name) {
  const auto list = now.views.list_of(ref_of(name.session()));
  if (!list) return refuse(now, list.error()), std::nullopt;
  Known ids{"a duty of that session's list", {}};
  for (const StandingDuty& duty : *list) {
    ids.ids.push_back(duty.owed.id());
    if (duty.owed.id() == name.id()) return duty;
  }
  if (list->empty()) {
    at["session"].mistake(
        "names a session that this ledger does not have; leave it out, or list "
        "what is open",
        ErrorCode::kUnknown);
  } else {
    check_reference(at["id"], name.id(), ids);
  }
  return std::nullopt;
}

std::optional<StandingDuty> waiting(Recording& now, const Spot& at, const std::string& id) {
  const auto standing = now.views.standing();
  if (!standing) return refuse(now, standing.error()), std::nullopt;
  Known ids{"a duty that waits", {}};
  for (auto duty = standing->rbegin(); duty != standing->rend(); ++duty) {
    if (duty->owed.id() == id) return *duty;
    ids.ids.push_back(duty->owed.id());
  }
  if (of_building(now.open.shop, id)) {
    StandingDuty building;
    building.owed.set_id(id);
    return building;
  }
  for (std::string& more : building_duties(now.open.shop).ids) ids.ids.push_back(std::move(more));
  check_reference(at["id"], id, ids);
  return std::nullopt;
}

std::optional<StandingDuty> ended(Recording& now, const Spot& at, const std::string& id) {
  std::vector<EntryRef> sessions;
  const auto read = now.views.sessions_back([&](SessionFact&& session) {
    sessions.push_back(session.told.entry);
    return sessions.size() < kMostListsBack;
  });
  if (!read) return refuse(now, read.error()), std::nullopt;
  for (const EntryRef& session : sessions) {
    const auto list = now.views.list_of(session);
    if (!list) return refuse(now, list.error()), std::nullopt;
    const auto duty = std::ranges::find_if(*list, [&](const StandingDuty& candidate) {
      return candidate.owed.id() == id && candidate.ending != DutyEnding::kOpen;
    });
    if (duty != list->end()) return *duty;
  }
  return waiting(now, at, id);
}

/// Completes the name of a duty; nothing where there is no such duty.
std::optional<StandingDuty> find_duty(Recording& now, const Spot& at, proto::DutyName& name,
                                      bool to_reopen) {
  if (name.id().empty()) {
    at["id"].mistake("missing: say which duty, by the id that the list shows");
    return std::nullopt;
  }
  std::optional<StandingDuty> duty = name.has_session() ? on_named_list(now, at, name)
                                     : to_reopen        ? ended(now, at, name.id())
                                                        : waiting(now, at, name.id());
  if (duty && duty->session) put_ref(*duty->session, *name.mutable_session());
  return duty;
}

}  // namespace

void record_done(Recording& now) {
  const Spot at = now.at()["done"];
  proto::DutyDone& done = *now.out.entry.mutable_duty_done();
  done = now.asked.done();
  const auto duty = find_duty(now, at["duty"], *done.mutable_duty(), false);
  if (done.has_minutes()) check_positive(at["minutes"], done.minutes(), kDay_minutes, "min");
  check_range(at["people"], done.people(), 0, kMostPeople, "people");
  if (!duty) return;
  if (done.kind().empty()) done.set_kind(duty->owed.kind());
  if (done.estimated_minutes() <= 0) done.set_estimated_minutes(duty->owed.published_minutes());
  if (done.has_minutes() || !now.asked.has_clock_minutes()) return;
  const auto taken = taken_minutes(now.asked.clock_minutes(), duty->owed.minutes());
  if (taken) done.set_minutes(*taken);
}

void record_passed_on(Recording& now) {
  const Spot at = now.at()["passed_on"];
  proto::DutyPassedOn& passed = *now.out.entry.mutable_duty_passed_on();
  passed = now.asked.passed_on();
  find_duty(now, at["duty"], *passed.mutable_duty(), false);
  check_given(at["reason"], passed.reason(), kLongestReason,
              "say why, such as: no time, no tool, not safe, not able");
}

void record_not_needed(Recording& now) {
  const Spot at = now.at()["not_needed"];
  proto::DutyNotNeeded& not_needed = *now.out.entry.mutable_duty_not_needed();
  not_needed = now.asked.not_needed();
  find_duty(now, at["duty"], *not_needed.mutable_duty(), false);
  check_words(at["reason"], not_needed.reason(), kLongestReason);
}

void record_reopened(Recording& now) {
  const Spot at = now.at()["reopened"];
  proto::DutyReopened& reopened = *now.out.entry.mutable_duty_reopened();
  reopened = now.asked.reopened();
  find_duty(now, at["duty"], *reopened.mutable_duty(), true);
  check_words(at["reason"], reopened.reason(), kLongestReason);
}

void record_closed(Recording& now) {
  const Spot at = now.at()["shop_closed"];
  proto::ShopClosed& closed = *now.out.entry.mutable_shop_closed();
  closed = now.asked.shop_closed();
  check_words(at["note"], closed.note(), kLongestNote);
  for (int i = 0; i < closed.open_size(); ++i) {
    find_duty(now, at.entry("open", i), *closed.mutable_open(i), false);
  }
  if (closed.open_size() > 0) return;
  const auto standing = now.views.standing();
  if (!standing) return refuse(now, standing.error());
  for (const StandingDuty& duty : *standing) {
    if (closed.open_size() == kMostOpen) break;
    proto::DutyName& name = *closed.add_open();
    name.set_id(duty.owed.id());
    if (duty.session) put_ref(*duty.session, *name.mutable_session());
  }
}

}  // namespace chipfall
