#include "core/door/record.h"

#include <algorithm>

#include <fmt/format.h>

#include "core/door/answer.h"
#include "core/shop/check_session.h"
#include "core/shop/mistakes.h"

namespace chipfall {
namespace {

constexpr double kDay_minutes = 1440;
constexpr int kMostPeople = 50;
/// An entry is 64 KiB at most; the rest of it needs little.
constexpr std::size_t kMostKeptSheetBytes = kMostEntryBytes - 1024;
/// Names of open duties that have room in one entry; a shop with more has other worries.
constexpr int kMostOpen = 400;
/// Lists looked at for one that has a duty to open again: a fortnight of a busy shop.
constexpr std::size_t kMostListsBack = 100;

/// What the checks of one request share.
struct Recording {
  const proto::Record& asked;
  const OpenShop& open;
  Views& views;
  const Found& found;
  std::int64_t now_ms;
  Errors errors{};
  ToRecord out{};

  Spot at() { return Spot(errors); }
};

template <typename List>
Known known(std::string_view noun, const List& list) {
  Known out{noun, {}};
  for (const auto& entry : list) out.ids.push_back(entry.id);
  return out;
}

bool has_control_sign(std::string_view text) {
  return std::ranges::any_of(text, [](char c) {
    return (static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\t') || c == 0x7F;
  });
}

void check_words(const Spot& at, const std::string& text, std::size_t longest) {
  if (text.size() > longest) {
    at.mistake(fmt::format("{} bytes are too long; at most {}", text.size(), longest),
               ErrorCode::kOutOfBounds);
  } else if (has_control_sign(text)) {
    at.mistake("has signs that are no text; leave them out");
  }
}

void check_given(const Spot& at, const std::string& text, std::size_t longest,
                 std::string_view what) {
  if (text.empty()) at.mistake(fmt::format("missing: {}", what));
  check_words(at, text, longest);
}

void check_seen(const Spot& at, const std::string& seen, const std::vector<std::string>& words) {
  if (std::ranges::find(words, seen) != words.end()) return;
  at.mistake(seen.empty() ? fmt::format("missing: give {}", one_of(words))
                          : fmt::format("{} is not something to see there; {}{}", in_quotes(seen),
                                        one_of(words), did_you_mean(seen, words)));
}

void refuse(Recording& now, const Error& error) { now.errors.push_back(error); }

EntryRef ref_of(const proto::EntryName& name) { return {name.device(), name.sequence()}; }

void put_ref(const EntryRef& ref, proto::EntryName& name) {
  name.set_device(ref.device);
  name.set_sequence(ref.sequence);
}

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
  const auto sessions = now.views.sessions();
  if (!sessions) return refuse(now, sessions.error()), std::nullopt;
  std::size_t looked = 0;
  for (auto session = sessions->rbegin(); session != sessions->rend(); ++session) {
    if (++looked > kMostListsBack) break;
    const auto list = now.views.list_of(session->told.entry);
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

void record_session(Recording& now) {
  const proto::PlanWindDown& draft = now.asked.session();
  if (draft.has_now_file()) {
    now.at()["now_file"].mistake(
        "a session is recorded as its tools go down; leave this out, and tick off what is done "
        "one by one");
    return;
  }
  const Result<Worked> worked = work_out(draft, now.open, now.found);
  if (!worked) {
    now.errors = worked.error();
    return;
  }
  proto::SessionEnded& session = *now.out.entry.mutable_session_ended();
  *session.mutable_session() = worked->message;
  put_owed(*worked, now.open, session);
  now.out.list = answer(now.open.shop, worked->state, worked->session, worked->evening);
  for (const proto::PassedOn& passed : now.out.list.passed_on()) {
    proto::DutyPassedOn& out = now.out.passed_on.emplace_back();
    out.mutable_duty()->set_id(passed.duty());
    out.set_reason(passed.reason());
  }
}

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

void record_bin_seen(Recording& now) {
  const Spot at = now.at()["bin_seen"];
  *now.out.entry.mutable_bin_seen() = now.asked.bin_seen();
  check_reference(at["bin"], now.asked.bin_seen().bin(), known("a bin", now.open.shop.bins));
  check_seen(at["seen"], now.asked.bin_seen().seen(), {"room", "half", "full", "weak pull"});
}

void record_emptied(Recording& now) {
  *now.out.entry.mutable_bin_emptied() = now.asked.bin_emptied();
  check_reference(now.at()["bin_emptied"]["bin"], now.asked.bin_emptied().bin(),
                  known("a bin", now.open.shop.bins));
}

void record_zone(Recording& now) {
  const Spot at = now.at()["zone_seen"];
  const proto::ZoneSeen& seen = now.asked.zone_seen();
  *now.out.entry.mutable_zone_seen() = seen;
  if (!seen.zone().empty()) {
    check_reference(at["zone"], seen.zone(), known("a zone", now.open.shop.zones));
  }
  check_seen(at["seen"], seen.seen(), {"dirtier", "cleaner"});
}

void record_out(Recording& now) {
  const Spot at = now.at()["machine_out"];
  *now.out.entry.mutable_machine_out() = now.asked.machine_out();
  check_reference(at["machine"], now.asked.machine_out().machine(),
                  known("a machine", now.open.shop.machines));
  check_words(at["reason"], now.asked.machine_out().reason(), kLongestReason);
}

/// Makes something less safe, so it counts only for somebody who saw why the machine is out.
void record_back(Recording& now) {
  const Spot at = now.at()["machine_back"];
  const proto::MachineBack& back = now.asked.machine_back();
  *now.out.entry.mutable_machine_back() = back;
  check_words(at["note"], back.note(), kLongestReason);
  if (!check_reference(at["machine"], back.machine(), known("a machine", now.open.shop.machines))) {
    return;
  }
  const auto out = now.views.machines_out();
  if (!out) return refuse(now, out.error());
  const auto notice = std::ranges::find(*out, back.machine(), &MachineNotice::machine);
  if (notice == out->end()) {
    at["machine"].mistake(
        fmt::format("{} is not out of order; nothing to take back", in_quotes(back.machine())));
  } else if (!back.has_seen()) {
    at["seen"].mistake("missing: name the notice that you saw; the list of what stands has it");
  } else if (ref_of(back.seen()) != notice->told.entry) {
    at["seen"].mistake(fmt::format("{} was reported out of order again since; read that first: {}",
                                   in_quotes(back.machine()),
                                   notice->reason.empty() ? "no reason given" : notice->reason));
  }
}

void check_amount(const Spot& at, bool given, double amount) {
  if (given) check_range(at, amount, 0, kMostSupply);
}

void record_low(Recording& now) {
  const Spot at = now.at()["supply_low"];
  const proto::SupplyLow& low = now.asked.supply_low();
  *now.out.entry.mutable_supply_low() = low;
  check_given(at["supply"], low.supply(), kLongestSupply, "say what runs low");
  check_amount(at["left"], low.has_left(), low.left());
}

void record_restocked(Recording& now) {
  const Spot at = now.at()["supply_restocked"];
  const proto::SupplyRestocked& restocked = now.asked.supply_restocked();
  *now.out.entry.mutable_supply_restocked() = restocked;
  check_given(at["supply"], restocked.supply(), kLongestSupply, "say what was restocked");
  check_amount(at["added"], restocked.has_added(), restocked.added());
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

void record_note(Recording& now) {
  const Spot at = now.at()["note"];
  const proto::Note& note = now.asked.note();
  *now.out.entry.mutable_note() = note;
  check_given(at["text"], note.text(), kLongestNote, "write what is to be noted");
  if (note.place().empty()) return;
  const Shop& shop = now.open.shop;
  Known places = known("a zone, machine or bin", shop.zones);
  for (const Machine& machine : shop.machines) places.ids.push_back(machine.id);
  for (const Bin& bin : shop.bins) places.ids.push_back(bin.id);
  check_reference(at["place"], note.place(), places);
}

void record_what(Recording& now) {
  switch (now.asked.what_case()) {
    case proto::Record::kSession:
      return record_session(now);
    case proto::Record::kDone:
      return record_done(now);
    case proto::Record::kPassedOn:
      return record_passed_on(now);
    case proto::Record::kNotNeeded:
      return record_not_needed(now);
    case proto::Record::kReopened:
      return record_reopened(now);
    case proto::Record::kBinSeen:
      return record_bin_seen(now);
    case proto::Record::kBinEmptied:
      return record_emptied(now);
    case proto::Record::kZoneSeen:
      return record_zone(now);
    case proto::Record::kMachineOut:
      return record_out(now);
    case proto::Record::kMachineBack:
      return record_back(now);
    case proto::Record::kSupplyLow:
      return record_low(now);
    case proto::Record::kSupplyRestocked:
      return record_restocked(now);
    case proto::Record::kShopClosed:
      return record_closed(now);
    case proto::Record::kNote:
      return record_note(now);
    case proto::Record::WHAT_NOT_SET:
      break;
  }
  now.at().mistake("nothing to record, or something that only a newer version knows",
                   ErrorCode::kUnknown);
}

/// When it happened: as the shell says, by the clock on the wall, or now. A claim is kept whatever
/// it says; the ledger marks what cannot be.
void put_time(Recording& now) {
  const proto::Record& asked = now.asked;
  std::int64_t at_ms = asked.has_event_utc_ms() ? asked.event_utc_ms() : now.now_ms;
  if (!asked.at().empty()) {
    const std::optional<int> minute = minute_of_day(asked.at());
    if (!minute) {
      now.at()["at"].mistake(
          fmt::format("{} is not a time; give HH:MM, 00:00 to 23:59", in_quotes(asked.at())));
    } else if (asked.has_event_utc_ms()) {
      now.at()["at"].mistake("the event's time is given already; leave one of the two out");
    } else {
      at_ms = now.open.clock.latest_ms(*minute, now.now_ms);
    }
  }
  now.out.entry.set_event_utc_ms(at_ms);
}

}  // namespace

Result<ToRecord> to_record(const proto::Record& asked, const OpenShop& open, Views& views,
                           const Found& found, std::int64_t now_ms) {
  Recording now{asked, open, views, found, now_ms};
  put_time(now);
  check_words(now.at()["member"], asked.member(), kLongestMember);
  now.out.entry.set_member(asked.member());
  if (now.errors.empty()) record_what(now);
  if (!now.errors.empty()) return tl::unexpected(std::move(now.errors));
  return std::move(now.out);
}

Result<proto::Entry> sheet_entry(const proto::LoadSheet& asked, const OpenShop& read,
                                 std::int64_t now_ms) {
  Errors errors;
  const Spot at(errors);
  const std::string& text = asked.sheet().content();
  const std::size_t longer = std::max(text.size(), read.message.size());
  if (longer > kMostKeptSheetBytes) {
    at["sheet"].mistake(fmt::format("{} bytes are too long to keep in the ledger; at most {}: "
                                    "shorten its comments",
                                    longer, kMostKeptSheetBytes),
                        ErrorCode::kOutOfBounds);
  }
  check_words(at["revision"], asked.revision(), kLongestMember);
  check_words(at["member"], asked.member(), kLongestMember);
  if (!errors.empty()) return tl::unexpected(std::move(errors));
  proto::Entry entry;
  entry.set_event_utc_ms(now_ms);
  entry.set_member(asked.member());
  entry.mutable_sheet_revision()->set_revision(asked.revision());
  entry.mutable_sheet_revision()->set_message(read.message);
  // The comments of a long sheet stay with its file.
  if (text.size() + read.message.size() <= kMostKeptSheetBytes) {
    entry.mutable_sheet_revision()->set_sheet(text);
  }
  return entry;
}

}  // namespace chipfall
