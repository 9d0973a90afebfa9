#pragma once

#include <fmt/format.h>

#include <map>
#include <string>
#include <vector>

#include "core/ledger/views.h"
#include "tests/unit/ledger_folder.h"

/// Entries of several phones for tests of the views, and what the views answer as text.
namespace chipfall {

constexpr std::int64_t kMinute_ms = 60'000;
constexpr std::int64_t kDay_ms = 24 * 60 * kMinute_ms;

/// Phones that tell entries; minutes count from kTestNow_ms. Each entry is told at its minute by
/// the phone's own clock, unless `claims` says another time.
class Phones {
 public:
  EntryRef tell(const std::string& phone, std::int64_t minute, proto::Entry entry) {
    const std::int64_t now_ms = kTestNow_ms + minute * kMinute_ms + ahead_[phone];
    entry.set_device(phone);
    entry.set_sequence(++sequences_[phone]);
    entry.mutable_clock()->set_wall_ms(now_ms);
    if (entry.event_utc_ms() == 0) entry.set_event_utc_ms(now_ms);
    if (entry.member().empty()) entry.set_member("Robin");
    sent_.push_back(entry.SerializeAsString());
    return {phone, entry.sequence()};
  }

  EntryRef session(const std::string& phone, std::int64_t minute,
                   const std::vector<std::string>& ids) {
    proto::Entry entry;
    for (const std::string& id : ids) {
      proto::DutyOwed& owed = *entry.mutable_session_ended()->add_owed();
      owed.set_id(id);
      owed.set_title(fmt::format("{} of {}", id, phone));
    }
    entry.mutable_session_ended();
    return tell(phone, minute, entry);
  }

  EntryRef done(const std::string& phone, std::int64_t minute, const std::string& id,
                const EntryRef& session = {}) {
    proto::Entry entry;
    name(*entry.mutable_duty_done()->mutable_duty(), id, session);
    return tell(phone, minute, entry);
  }
  EntryRef passed_on(const std::string& phone, std::int64_t minute, const std::string& id,
                     const EntryRef& session = {}, const std::string& reason = "no time") {
    proto::Entry entry;
    name(*entry.mutable_duty_passed_on()->mutable_duty(), id, session);
    entry.mutable_duty_passed_on()->set_reason(reason);
    return tell(phone, minute, entry);
  }
  EntryRef not_needed(const std::string& phone, std::int64_t minute, const std::string& id,
                      const EntryRef& session = {}) {
    proto::Entry entry;
    name(*entry.mutable_duty_not_needed()->mutable_duty(), id, session);
    return tell(phone, minute, entry);
  }
  EntryRef reopened(const std::string& phone, std::int64_t minute, const std::string& id,
                    const EntryRef& session = {}) {
    proto::Entry entry;
    name(*entry.mutable_duty_reopened()->mutable_duty(), id, session);
    return tell(phone, minute, entry);
  }

  EntryRef out(const std::string& phone, std::int64_t minute, const std::string& machine,
               const std::string& reason = "fence slips") {
    proto::Entry entry;
    entry.mutable_machine_out()->set_machine(machine);
    entry.mutable_machine_out()->set_reason(reason);
    return tell(phone, minute, entry);
  }
  EntryRef back(const std::string& phone, std::int64_t minute, const std::string& machine,
                const EntryRef& seen) {
    proto::Entry entry;
    entry.mutable_machine_back()->set_machine(machine);
    set(*entry.mutable_machine_back()->mutable_seen(), seen);
    return tell(phone, minute, entry);
  }

  EntryRef emptied(const std::string& phone, std::int64_t minute, const std::string& bin) {
    proto::Entry entry;
    entry.mutable_bin_emptied()->set_bin(bin);
    return tell(phone, minute, entry);
  }
  EntryRef bin_seen(const std::string& phone, std::int64_t minute, const std::string& bin,
                    const std::string& seen) {
    proto::Entry entry;
    entry.mutable_bin_seen()->set_bin(bin);
    entry.mutable_bin_seen()->set_seen(seen);
    return tell(phone, minute, entry);
  }
  EntryRef note(const std::string& phone, std::int64_t minute, const std::string& text) {
    proto::Entry entry;
    entry.mutable_note()->set_text(text);
    return tell(phone, minute, entry);
  }
  EntryRef supply(const std::string& phone, std::int64_t minute, const std::string& supply,
                  bool low) {
    proto::Entry entry;
    if (low) {
      entry.mutable_supply_low()->set_supply(supply);
    } else {
      entry.mutable_supply_restocked()->set_supply(supply);
    }
    return tell(phone, minute, entry);
  }
  EntryRef sheet(const std::string& phone, std::int64_t minute, const std::string& revision) {
    proto::Entry entry;
    entry.mutable_sheet_revision()->set_revision(revision);
    return tell(phone, minute, entry);
  }

  /// From now on the phone's clock is so far ahead of the truth.
  void set_ahead(const std::string& phone, std::int64_t ahead_ms) { ahead_[phone] = ahead_ms; }
  /// The phone measures its clock beside the hub's.
  EntryRef measured(const std::string& phone, std::int64_t minute) {
    proto::Entry entry;
    entry.mutable_clock_measured()->set_ahead_ms(ahead_[phone]);
    return tell(phone, minute, entry);
  }

  const std::vector<std::string>& sent() const { return sent_; }

 private:
  static void set(proto::EntryName& name, const EntryRef& entry) {
    name.set_device(entry.device);
    name.set_sequence(entry.sequence);
  }
  static void name(proto::DutyName& duty, const std::string& id, const EntryRef& session) {
    duty.set_id(id);
    if (!session.device.empty()) set(*duty.mutable_session(), session);
  }

  std::map<std::string, std::uint64_t> sequences_;
  std::map<std::string, std::int64_t> ahead_;
  std::vector<std::string> sent_;
};

inline std::int64_t at_minute(std::int64_t minute) { return kTestNow_ms + minute * kMinute_ms; }

inline Views views_of(LedgerStore& store) { return sure(Views::open(store)); }

/// A hub's ledger in a folder of its own, with its views.
class ToldLedger {
 public:
  explicit ToldLedger(const std::string& device = "hub")
      : store_(ledger(folder_.file("hub.ledger"), device)), views_(views_of(store_)) {
    // These tests are about what is folded, not about power cuts.
    sure(store_.file().run("PRAGMA synchronous = OFF"));
  }
  explicit ToldLedger(const Phones& phones) : ToldLedger() { receive(phones.sent()); }

  void store_only(const std::vector<std::string>& sent) {
    sure(store_.add_received(sent, kTestNow_ms));
  }
  void receive(const std::vector<std::string>& sent) {
    store_only(sent);
    sure(views_.catch_up());
  }
  /// Forgets every entry, so that one file serves many orders of arrival.
  void clear() {
    sure(store_.file().run("DELETE FROM entries"));
    sure(views_.rebuild());
  }

  LedgerStore& store() { return store_; }
  Views& views() { return views_; }

 private:
  LedgerFolder folder_;
  LedgerStore store_;
  Views views_;
};

inline std::string text(const EntryRef& ref) {
  return fmt::format("{}/{}", ref.device, ref.sequence);
}

inline std::string text(const Told& told) {
  return fmt::format("{} {} {}{}", text(told.entry), told.at_ms, told.member,
                     told.doubtful ? " doubtful" : "");
}

inline std::string text(DutyEnding ending) {
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
  return "?";
}

/// "zone:bench open", for reading in tests.
inline std::vector<std::string> in_short(const std::vector<StandingDuty>& duties) {
  std::vector<std::string> lines;
  for (const auto& duty : duties) {
    lines.push_back(fmt::format("{} {}", duty.owed.id(), text(duty.ending)));
  }
  return lines;
}

inline std::string text(const std::vector<StandingDuty>& duties) {
  std::string lines;
  for (const auto& duty : duties) {
    lines += fmt::format("{} '{}' {} since {} {} '{}' by {}\n", duty.owed.id(), duty.owed.title(),
                         duty.session ? text(*duty.session) : "building", duty.since_ms,
                         text(duty.ending), duty.reason, duty.by ? text(*duty.by) : "nobody");
  }
  return lines;
}

/// Every answer of the views.
inline std::string answers(Views& views) {
  std::string all = text(sure(views.standing()));
  for (const auto& fact : sure(views.sessions())) {
    all +=
        fmt::format("session {}\n{}", text(fact.told), text(sure(views.list_of(fact.told.entry))));
  }
  for (const auto& fact : sure(views.done())) {
    all += fmt::format("done {} {} {}\n", text(fact.told), fact.done.duty().id(),
                       fact.owed ? fact.owed->title() : "");
  }
  for (const auto& fact : sure(views.bins())) {
    all += fmt::format("bin {} {} {} {}\n", text(fact.told), fact.bin, fact.emptied, fact.seen);
  }
  for (const auto& fact : sure(views.notes())) {
    all += fmt::format("note {} {}\n", text(fact.told), fact.note.text());
  }
  for (const auto& notice : sure(views.machines_out())) {
    all += fmt::format("out {} {} {}\n", text(notice.told), notice.machine, notice.reason);
    for (const auto& back : notice.unseen_backs) all += fmt::format("  unseen {}\n", text(back));
  }
  for (const auto& notice : sure(views.supplies())) {
    all += fmt::format("supply {} {} {}\n", text(notice.told), notice.supply, notice.low);
  }
  const auto sheet = sure(views.sheet());
  if (sheet) all += fmt::format("sheet {} {}\n", text(sheet->told), sheet->revision.revision());
  return all;
}

}  // namespace chipfall
