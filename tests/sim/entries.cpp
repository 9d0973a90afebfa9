#include "tests/sim/entries.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace chipfall::sim {

namespace {

constexpr std::array kDuties = {"zone:floor", "zone:bench", "empty-bin:pail", "trash", "reset:saw"};
constexpr std::array kMachines = {"saw", "planer", "lathe"};
constexpr std::array kBins = {"pail", "vac"};
constexpr std::int64_t kLookedBack = 12;  ///< arrivals: what somebody may still have on the screen

template <std::size_t kCount>
std::string one_of(const std::array<const char*, kCount>& words, const Below& below) {
  return words[below(kCount)];
}

/// The latest session or machine-out entry here.
proto::EntryName latest(LedgerStore& store, proto::Entry::PayloadCase kind) {
  proto::EntryName name;
  const auto last = store.last_arrival();
  if (!last) return name;
  const auto visited =
      store.visit_arrivals(std::max<std::int64_t>(0, *last - kLookedBack), [&](const auto& stored) {
        proto::Entry entry;
        entry.ParseFromArray(stored.bytes.data(), int(stored.bytes.size()));
        if (entry.payload_case() == kind) {
          name.set_device(entry.device());
          name.set_sequence(entry.sequence());
        }
        return true;
      });
  static_cast<void>(visited);
  return name;
}

void name_duty(proto::DutyName& duty, LedgerStore& store, const Below& below) {
  duty.set_id(one_of(kDuties, below));
  const proto::EntryName session = latest(store, proto::Entry::kSessionEnded);
  if (session.sequence() > 0 && below(4) > 0) *duty.mutable_session() = session;
}

void end_duty(proto::Entry& entry, LedgerStore& store, const std::string& token,
              const Below& below) {
  switch (below(6)) {
    case 0:
      name_duty(*entry.mutable_duty_passed_on()->mutable_duty(), store, below);
      entry.mutable_duty_passed_on()->set_reason(token);
      return;
    case 1:
      name_duty(*entry.mutable_duty_not_needed()->mutable_duty(), store, below);
      entry.mutable_duty_not_needed()->set_reason(token);
      return;
    case 2:
      name_duty(*entry.mutable_duty_reopened()->mutable_duty(), store, below);
      entry.mutable_duty_reopened()->set_reason(token);
      return;
    default:
      name_duty(*entry.mutable_duty_done()->mutable_duty(), store, below);
      entry.mutable_duty_done()->set_kind(token);
      entry.mutable_duty_done()->set_minutes(double(below(900)) / 60);
      entry.mutable_duty_done()->set_people(1 + int(below(3)));
  }
}

void about_machine(proto::Entry& entry, LedgerStore& store, const std::string& token,
                   const Below& below) {
  if (below(2) == 0) {
    entry.mutable_machine_out()->set_machine(one_of(kMachines, below));
    entry.mutable_machine_out()->set_reason(token);
    return;
  }
  entry.mutable_machine_back()->set_machine(one_of(kMachines, below));
  *entry.mutable_machine_back()->mutable_seen() = latest(store, proto::Entry::kMachineOut);
  entry.mutable_machine_back()->set_note(token);
}

void end_session(proto::Entry& entry, const std::string& token) {
  for (const char* id : kDuties) {
    proto::DutyOwed& owed = *entry.mutable_session_ended()->add_owed();
    owed.set_id(id);
    owed.set_title(token);
  }
}

}  // namespace

proto::Entry some_entry(LedgerStore& store, const std::string& token, const Below& below) {
  proto::Entry entry;
  entry.set_member("somebody");
  switch (below(10)) {
    case 0:
      end_session(entry, token);
      break;
    case 1:
      about_machine(entry, store, token, below);
      break;
    case 2:
      entry.mutable_bin_seen()->set_bin(one_of(kBins, below));
      entry.mutable_bin_seen()->set_seen(token);
      break;
    case 3:
      entry.mutable_supply_low()->set_supply(token);
      break;
    case 4:
      entry.mutable_sheet_revision()->set_revision(token);
      break;
    case 5:
    case 6:
      entry.mutable_note()->set_text(token);
      break;
    default:
      end_duty(entry, store, token, below);
  }
  return entry;
}

std::string token_of(std::string_view bytes) {
  proto::Entry entry;
  entry.ParseFromArray(bytes.data(), int(bytes.size()));
  switch (entry.payload_case()) {
    case proto::Entry::kSessionEnded:
      return entry.session_ended().owed_size() > 0 ? entry.session_ended().owed(0).title() : "";
    case proto::Entry::kDutyDone:
      return entry.duty_done().kind();
    case proto::Entry::kDutyPassedOn:
      return entry.duty_passed_on().reason();
    case proto::Entry::kDutyNotNeeded:
      return entry.duty_not_needed().reason();
    case proto::Entry::kDutyReopened:
      return entry.duty_reopened().reason();
    case proto::Entry::kBinSeen:
      return entry.bin_seen().seen();
    case proto::Entry::kMachineOut:
      return entry.machine_out().reason();
    case proto::Entry::kMachineBack:
      return entry.machine_back().note();
    case proto::Entry::kSupplyLow:
      return entry.supply_low().supply();
    case proto::Entry::kNote:
      return entry.note().text();
    case proto::Entry::kSheetRevision:
      return entry.sheet_revision().revision();
    default:
      return {};
  }
}

}  // namespace chipfall::sim
