#include "core/door/shop_lists.h"

#include <algorithm>
#include <iterator>
#include <set>

#include <fmt/format.h>

#include "core/door/entry_words.h"
#include "core/door/refusal.h"
#include "core/duty/say.h"
#include "core/shop/words.h"

namespace chipfall {
namespace {

constexpr std::int64_t kDay_ms = 86'400'000;

/// Each id once: of a stock that the library has as well, the shop's own comes first and holds.
template <typename List>
void put_names(const List& list, google::protobuf::RepeatedPtrField<proto::Named>& out) {
  std::set<std::string_view> ids;
  for (const auto& entry : list) {
    if (!ids.insert(entry.id).second) continue;
    proto::Named& named = *out.Add();
    named.set_id(entry.id);
    named.set_name(entry.name);
  }
}

struct Word {
  const char* word;
  const char* text;
};
constexpr Word kPassOnReasons[] = {{"no time", "No time"},
                                   {"no tool", "The tool is missing or broken"},
                                   {"not safe", "It is not safe now"},
                                   {"not able", "I cannot do it"}};
constexpr Word kNotNeededReasons[] = {{"already clean", "It is clean already"},
                                      {"done by others", "Somebody else has done it"},
                                      {"does not apply", "It does not apply today"}};
constexpr Word kBinLooks[] = {{"room", "Plenty of room"},
                              {"half", "About half full"},
                              {"full", "Full"},
                              {"weak pull", "It pulls weakly"}};
constexpr Word kZoneLooks[] = {{"dirtier", "Dirtier than it says"},
                               {"cleaner", "Cleaner than it says"}};

template <std::size_t count>
void put_choices(const Word (&words)[count],
                 google::protobuf::RepeatedPtrField<proto::Choice>& out) {
  for (const Word& word : words) {
    proto::Choice& choice = *out.Add();
    choice.set_word(word.word);
    choice.set_text(word.text);
  }
}

std::string when_text(const ShopClock& clock, std::int64_t at_ms, std::int64_t now_ms) {
  return fmt::format("{} {}", clock.day_text(at_ms, now_ms), clock.time_text(at_ms));
}

/// "Table saw 40 min, Planer 20 min".
std::string uses_text(const Shop& shop, const proto::Session& session) {
  std::string text;
  for (const proto::Use& use : session.uses()) {
    const Index at = index_of(shop.machines, use.machine());
    fmt::format_to(std::back_inserter(text), "{}{} {}", text.empty() ? "" : ", ",
                   at == kNone ? plain_line(use.machine()) : shop.machines[at].name,
                   say_minutes(use.minutes()));
  }
  return text;
}

/// The uses alone, for telling sessions apart that would begin the same draft.
std::string key_of(const proto::Session& draft) {
  proto::Session uses;
  *uses.mutable_uses() = draft.uses();
  return uses.SerializeAsString();
}

class Recent {
 public:
  Recent(const OpenShop& open, const std::string& own_device, std::int64_t now_ms)
      : open_(open), own_device_(own_device), now_ms_(now_ms) {}

  /// From the latest on, first those of this device.
  void take(const SessionFact& fact, proto::ShopLists& out);
  void add_unused(proto::ShopLists& out);

 private:
  void take_use(const proto::Use& use, const SessionFact& fact, proto::ShopLists& out);

  const OpenShop& open_;
  const std::string& own_device_;
  std::int64_t now_ms_;
  std::set<std::string> machines_, stocks_, sessions_;
};

void Recent::take(const SessionFact& fact, proto::ShopLists& out) {
  const proto::Session& session = fact.ended.session();
  for (const proto::Use& use : session.uses()) take_use(use, fact, out);
  const bool all_here = std::ranges::all_of(session.uses(), [&](const proto::Use& use) {
    return index_of(open_.shop.machines, use.machine()) != kNone &&
           open_.shop.stock(use.stock()) != nullptr;
  });
  if (session.uses().empty() || !all_here || out.recent_size() == kMostRecent) return;
  if (!sessions_.insert(key_of(session)).second) return;
  proto::RecentSession& recent = *out.add_recent();
  recent.mutable_entry()->set_device(fact.told.entry.device);
  recent.mutable_entry()->set_sequence(fact.told.entry.sequence);
  recent.set_when(when_text(open_.clock, fact.told.at_ms, now_ms_));
  recent.set_text(uses_text(open_.shop, session));
  *recent.mutable_session() = session;
  recent.mutable_session()->clear_id();
  recent.mutable_session()->clear_name();
  recent.mutable_session()->clear_leave_at();
  recent.set_own(fact.told.entry.device == own_device_);
}

void Recent::take_use(const proto::Use& use, const SessionFact& fact, proto::ShopLists& out) {
  if (open_.shop.stock(use.stock()) != nullptr && stocks_.insert(use.stock()).second) {
    out.add_stocks_by_use(use.stock());
  }
  const Index at = index_of(open_.shop.machines, use.machine());
  if (at == kNone || !machines_.insert(use.machine()).second) return;
  out.add_machines_by_use(use.machine());
  proto::LastUse& last = *out.mutable_machines(at)->mutable_last();
  last.set_utc_ms(fact.told.at_ms);
  last.set_when(when_text(open_.clock, fact.told.at_ms, now_ms_));
  last.set_minutes(use.minutes());
  last.set_stock(use.stock());
  last.set_extraction(use.has_extraction() ? use.extraction() : out.machines(at).extraction());
  last.set_own(fact.told.entry.device == own_device_);
}

void Recent::add_unused(proto::ShopLists& out) {
  for (const Machine& machine : open_.shop.machines) {
    if (machines_.insert(machine.id).second) out.add_machines_by_use(machine.id);
  }
  for (const Stock& stock : open_.shop.stocks) {
    if (stocks_.insert(stock.id).second) out.add_stocks_by_use(stock.id);
  }
}

void put_machines(const Shop& shop, const std::vector<MachineNotice>& notices,
                  proto::ShopLists& out) {
  for (const Machine& machine : shop.machines) {
    proto::MachineNamed& named = *out.add_machines();
    named.set_id(machine.id);
    named.set_name(machine.name);
    named.set_kind(machine.kind.name);
    named.set_extraction(machine.collector != kNone);
    const auto notice = std::ranges::find(notices, machine.id, &MachineNotice::machine);
    if (notice == notices.end()) continue;
    named.set_out(true);
    named.set_out_reason(plain_line(notice->reason));
  }
}

std::string ending_word(DutyEnding ending) {
  switch (ending) {
    case DutyEnding::kOpen:
      return "open";
    case DutyEnding::kDone:
      return "done";
    case DutyEnding::kPassedOn:
      return "passed on";
    case DutyEnding::kNotNeeded:
      return "not needed";
  }
  return "open";
}

/// The latest session that this device ended.
OrError<std::optional<SessionFact>> own_latest(Views& views, const std::string& own_device) {
  std::optional<SessionFact> latest;
  const auto read = views.sessions_back([&](SessionFact&& session) {
    if (session.told.entry.device == own_device) latest = std::move(session);
    return !latest;
  });
  if (!read) return tl::unexpected(read.error());
  return latest;
}

}  // namespace

OrError<proto::ShopLists> shop_lists(const OpenShop& open, Views* views,
                                     const std::string& own_device, std::int64_t now_ms) {
  const Shop& shop = open.shop;
  std::vector<MachineNotice> notices;
  std::vector<SessionFact> sessions;
  if (views != nullptr) {
    auto out = views->machines_out();
    if (!out) return tl::unexpected(out.error());
    notices = *std::move(out);
    auto told = views->sessions(now_ms - kRecentUse_days * kDay_ms);
    if (!told) return tl::unexpected(told.error());
    sessions = *std::move(told);
  }
  proto::ShopLists lists;
  lists.set_shop(shop.name);
  lists.set_time_zone(shop.time_zone);
  lists.set_units(std::string(word(shop.policy.units)));
  put_names(shop.zones, *lists.mutable_zones());
  put_names(shop.bins, *lists.mutable_bins());
  put_names(shop.gates, *lists.mutable_gates());
  put_names(shop.tools, *lists.mutable_tools());
  put_names(shop.stocks, *lists.mutable_stocks());
  put_names(shop.supplies, *lists.mutable_supplies());
  put_names(shop.collectors, *lists.mutable_collectors());
  put_names(shop.filters, *lists.mutable_filters());
  put_machines(shop, notices, lists);
  put_choices(kPassOnReasons, *lists.mutable_pass_on_reasons());
  put_choices(kNotNeededReasons, *lists.mutable_not_needed_reasons());
  put_choices(kBinLooks, *lists.mutable_bin_looks());
  put_choices(kZoneLooks, *lists.mutable_zone_looks());
  Recent recent(open, own_device, now_ms);
  for (const bool own : {true, false}) {
    for (auto fact = sessions.rbegin(); fact != sessions.rend(); ++fact) {
      if ((fact->told.entry.device == own_device) == own) recent.take(*fact, lists);
    }
  }
  recent.add_unused(lists);
  return lists;
}

OrError<std::optional<proto::ListNow>> list_now(Views& views, const ShopClock& clock,
                                                const std::optional<EntryRef>& session,
                                                const std::string& own_device,
                                                std::int64_t now_ms) {
  const auto asked = session ? views.session(*session) : own_latest(views, own_device);
  if (!asked) return tl::unexpected(asked.error());
  if (!*asked) return std::optional<proto::ListNow>();
  const SessionFact& fact = **asked;
  const auto duties = views.list_of(fact.told.entry);
  if (!duties) return tl::unexpected(duties.error());
  proto::ListNow list;
  list.set_format(kMessageFormat);
  list.mutable_session()->set_device(fact.told.entry.device);
  list.mutable_session()->set_sequence(fact.told.entry.sequence);
  list.set_name(plain_line(fact.ended.session().name()));
  list.set_ended_utc_ms(fact.told.at_ms);
  list.set_ended(when_text(clock, fact.told.at_ms, now_ms));
  for (const StandingDuty& duty : *duties) {
    proto::ListedDuty& put = *list.add_duties();
    *put.mutable_owed() = duty.owed;
    put.set_ending(ending_word(duty.ending));
    put.set_reason(plain_line(duty.reason));
    if (duty.by) put.set_ended(when_text(clock, duty.by->at_ms, now_ms));
    list.set_open(list.open() + (duty.ending == DutyEnding::kOpen ? 1 : 0));
  }
  return std::optional(std::move(list));
}

}  // namespace chipfall
