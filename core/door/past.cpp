#include "core/door/past.h"

#include <algorithm>
#include <map>
#include <set>

#include <boost/algorithm/hex.hpp>

#include "core/shop/build.h"
#include "core/shop/check_session.h"
#include "core/shop/load.h"
#include "core/shop/words.h"

namespace chipfall {
namespace {

constexpr double kMinute_ms = 60'000;

/// The part of "zone:planer-floor" behind the colon; nothing without that beginning.
std::optional<std::string> behind(const std::string& id, std::string_view beginning) {
  if (!id.starts_with(beginning)) return std::nullopt;
  return id.substr(beginning.size());
}

class Reading {
 public:
  explicit Reading(const Shop& shop) : shop_(shop) {
    past_.out_of_order.assign(shop.machines.size(), false);
  }

  void take(const SessionFact& fact);
  void take(const DoneFact& fact);
  void take(const ZoneFact& fact);
  void take(const BinFact& fact);
  void take(const MachineNotice& notice);
  void take(const SupplyNotice& notice);
  Past finished();

 private:
  PastEvent& add(const Told& told, PastEvent::Kind kind, Index what);
  template <typename List>
  std::optional<Index> place(const List& list, const std::string& id);
  std::optional<Index> zone(const std::string& id);
  proto::Session readable_part(const proto::Session& session);
  void take_zone_duty(const DoneFact& fact, const std::string& zone_id);
  void take_time(const DoneFact& fact);

  const Shop& shop_;
  Past past_;
  std::set<std::string> unknown_;
};

PastEvent& Reading::add(const Told& told, PastEvent::Kind kind, Index what) {
  PastEvent event;
  event.id = text_of(told.entry);
  event.at_ms = told.at_ms;
  event.kind = kind;
  event.what = what;
  return past_.events.emplace_back(std::move(event));
}

template <typename List>
std::optional<Index> Reading::place(const List& list, const std::string& id) {
  const Index index = index_of(list, id);
  if (index != kNone) return index;
  unknown_.insert(id);
  return std::nullopt;
}

std::optional<Index> Reading::zone(const std::string& id) {
  if (id.empty() || id == "open-floor") return kNone;
  return place(shop_.zones, id);
}

/// The session as this sheet can read it. As a rule that is all of it, found by one check.
void Reading::take(const SessionFact& fact) {
  proto::Session session = fact.ended.session();
  session.clear_leave_at();
  session.set_id("past");
  if (!check_session(session, shop_).empty()) session = readable_part(session);
  if (session.uses().empty()) return;
  add(fact.told, PastEvent::Kind::kSession, kNone).session = build_session(session, shop_);
}

/// Without the uses and gates that the sheet cannot read, and without its length where that no
/// longer fits; no uses where nothing is left.
proto::Session Reading::readable_part(const proto::Session& session) {
  proto::Session kept = session;
  kept.clear_uses();
  kept.clear_gates_left_open();
  kept.set_minutes(0);
  for (const proto::Use& use : session.uses()) {
    *kept.add_uses() = use;
    if (check_session(kept, shop_).empty()) continue;
    kept.mutable_uses()->RemoveLast();
    if (index_of(shop_.machines, use.machine()) == kNone) unknown_.insert(use.machine());
    if (shop_.stock(use.stock()) == nullptr) unknown_.insert(use.stock());
  }
  for (const std::string& gate : session.gates_left_open()) {
    const auto& open = kept.gates_left_open();
    if (place(shop_.gates, gate) && std::ranges::find(open, gate) == open.end()) {
      kept.add_gates_left_open(gate);
    }
  }
  kept.set_minutes(session.minutes());
  if (!check_session(kept, shop_).empty()) kept.set_minutes(0);
  if (!check_session(kept, shop_).empty()) kept.clear_uses();
  return kept;
}

void Reading::take_zone_duty(const DoneFact& fact, const std::string& zone_id) {
  const auto index = zone(zone_id);
  if (!index) return;
  add(fact.told, PastEvent::Kind::kZoneCleaned, *index);
  PastCleaning cleaning;
  cleaning.id = text_of(fact.told.entry);
  cleaning.at_ms = fact.told.at_ms;
  cleaning.zone = *index;
  if (fact.done.duty().has_session()) {
    const proto::EntryName& of = fact.done.duty().session();
    cleaning.session = text_of({of.device(), of.sequence()});
  }
  past_.cleanings.push_back(std::move(cleaning));
}

void Reading::take_time(const DoneFact& fact) {
  const proto::DutyDone& done = fact.done;
  const auto kind = parse<DutyKind>(done.kind());
  if (!done.has_minutes() || !kind || !(done.estimated_minutes() > 0) || !(done.minutes() > 0)) {
    return;
  }
  past_.finished.push_back({*kind, done.estimated_minutes(), done.minutes()});
  past_.finished_ms.push_back(fact.told.at_ms);
}

void Reading::take(const DoneFact& fact) {
  take_time(fact);
  const std::string& id = fact.done.duty().id();
  if (const auto zone_id = behind(id, "zone:")) return take_zone_duty(fact, *zone_id);
  if (fact.done.kind() == word(DutyKind::kCommon) && fact.owed) {
    if (const auto index = zone(fact.owed->zone())) {
      PastEvent& event = add(fact.told, PastEvent::Kind::kCommonDust, *index);
      event.minutes = fact.done.has_minutes() ? fact.done.minutes() : fact.owed->minutes();
    }
    return;
  }
  const size_t colon = id.find(':');
  if (fact.done.kind() == word(DutyKind::kFilter) && colon != std::string::npos) {
    if (const auto index = place(shop_.collectors, id.substr(colon + 1))) {
      add(fact.told, PastEvent::Kind::kFilterCleaned, *index);
    }
  }
}

void Reading::take(const ZoneFact& fact) {
  const auto index = zone(fact.zone);
  const bool dirtier = fact.seen == "dirtier";
  if (!index || (!dirtier && fact.seen != "cleaner")) return;
  add(fact.told, PastEvent::Kind::kZoneSeen, *index).dirtier = dirtier;
}

/// A fill for reckoning how a bin chokes; the belief makes finer use of the same facts.
void Reading::take(const BinFact& fact) {
  past_.bin_facts.push_back({text_of(fact.told.entry), fact.told.at_ms, fact.bin, fact.emptied,
                             fact.bag_replaced, fact.seen});
  const auto index = place(shop_.bins, fact.bin);
  if (!index) return;
  std::optional<double> fill;
  if (fact.emptied) fill = 0;
  if (fact.seen == "room") fill = 0.2;
  if (fact.seen == "half") fill = 0.5;
  if (fact.seen == "full" || fact.seen == "weak pull") fill = 1;
  if (fill) add(fact.told, PastEvent::Kind::kBinSeen, *index).fill = *fill;
}

void Reading::take(const MachineNotice& notice) {
  if (const auto index = place(shop_.machines, notice.machine)) {
    past_.out_of_order[static_cast<size_t>(*index)] = true;
  }
}

void Reading::take(const SupplyNotice& notice) {
  past_.supplies.push_back(
      {text_of(notice.told.entry), notice.told.at_ms, notice.supply, notice.low, notice.amount});
}

Past Reading::finished() {
  if (past_.finished.size() > kMostFinished) {
    past_.finished.erase(past_.finished.begin(), past_.finished.end() - kMostFinished);
    past_.finished_ms.erase(past_.finished_ms.begin(), past_.finished_ms.end() - kMostFinished);
  }
  past_.unknown.assign(unknown_.begin(), unknown_.end());
  return std::move(past_);
}

template <typename Facts>
OrError<void> take_all(const OrError<Facts>& facts, Reading& reading) {
  if (!facts) return tl::unexpected(facts.error());
  for (const auto& fact : *facts) reading.take(fact);
  return {};
}

}  // namespace

std::string text_of(const EntryRef& entry) {
  // Asked for every entry of years, so without a format for each byte.
  std::string text;
  text.reserve(2 * entry.device.size() + 12);
  boost::algorithm::hex_lower(entry.device, std::back_inserter(text));
  text += '/';
  text += std::to_string(entry.sequence);
  return text;
}

OrError<Past> past_of(Views& views, const Shop& shop) {
  Reading reading(shop);
  auto taken = take_all(views.sessions(), reading);
  if (taken) taken = take_all(views.done(), reading);
  if (taken) taken = take_all(views.zones(), reading);
  if (taken) taken = take_all(views.bins(), reading);
  if (taken) taken = take_all(views.machines_out(), reading);
  if (taken) taken = take_all(views.supplies(), reading);
  if (!taken) return tl::unexpected(taken.error());
  return reading.finished();
}

OrError<std::vector<ZoneEnding>> zone_endings(Views& views, const Shop& shop, std::int64_t from_ms,
                                              const DayOf& day_of) {
  const auto sessions = views.sessions(from_ms);
  if (!sessions) return tl::unexpected(sessions.error());
  std::vector<ZoneEnding> endings;
  for (const SessionFact& session : *sessions) {
    const auto list = views.list_of(session.told.entry);
    if (!list) return tl::unexpected(list.error());
    for (const StandingDuty& duty : *list) {
      const auto id = behind(duty.owed.id(), "zone:");
      const bool ended = duty.ending == DutyEnding::kDone || duty.ending == DutyEnding::kPassedOn;
      const Index zone = id ? index_of(shop.zones, *id) : kNone;
      if (!ended || zone == kNone) continue;
      endings.push_back({zone, day_of(duty.since_ms), duty.ending == DutyEnding::kPassedOn});
    }
  }
  return endings;
}

OrError<std::vector<PendingDuty>> pending_of(Views& views, std::int64_t now_ms) {
  const auto standing = views.standing();
  if (!standing) return tl::unexpected(standing.error());
  std::map<EntryRef, std::string> names;
  for (const StandingDuty& duty : *standing) {
    if (!duty.session || names.contains(*duty.session)) continue;
    const auto session = views.session(*duty.session);
    if (!session) return tl::unexpected(session.error());
    names[*duty.session] = *session ? (*session)->ended.session().name() : "";
  }
  std::vector<PendingDuty> pending;
  for (const StandingDuty& duty : *standing) {
    PendingDuty out;
    out.id = duty.owed.id();
    out.title = duty.owed.title();
    out.kind = duty.owed.kind();
    out.minutes = duty.owed.minutes();
    out.weight = duty.owed.weight();
    out.safety = duty.owed.safety();
    out.zone = duty.owed.zone();
    out.machine = duty.owed.machine();
    out.bin = duty.owed.bin();
    out.place = duty.owed.place();
    out.passed_on = duty.ending == DutyEnding::kPassedOn;
    out.reason = duty.reason;
    out.age_minutes = std::max(0.0, static_cast<double>(now_ms - duty.since_ms) / kMinute_ms);
    if (duty.session) {
      out.session = names[*duty.session];
      out.session_device = duty.session->device;
      out.session_sequence = duty.session->sequence;
    }
    pending.push_back(std::move(out));
  }
  return pending;
}

}  // namespace chipfall
