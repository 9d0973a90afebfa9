#include <fmt/format.h>

#include "core/door/door.h"
#include "core/door/entry_words.h"
#include "core/door/history.h"
#include "core/door/refusal.h"
#include "core/door/shop_lists.h"

/// Requests that tell what the ledger holds.
namespace chipfall {
namespace {

void put_ref(const EntryRef& ref, proto::EntryName& name) {
  name.set_device(ref.device);
  name.set_sequence(ref.sequence);
}

std::string saving_words(const LedgerCounts& counts, std::int64_t own) {
  if (counts.entries == 0) return "Nothing is recorded yet.";
  std::string text = fmt::format("{} {} saved on this device, {} made here.", counts.entries,
                                 counts.entries == 1 ? "entry is" : "entries are", own);
  if (counts.doubtful > 0) {
    fmt::format_to(std::back_inserter(text), " {} claim a time that cannot be.", counts.doubtful);
  }
  return text;
}

}  // namespace

void Door::standing(proto::Response& response) {
  if (!has_ledger(response)) return;
  const auto duties = views_->standing();
  if (!duties) return refuse(duties.error(), response);
  const auto out = views_->machines_out();
  if (!out) return refuse(out.error(), response);
  const auto supplies = views_->supplies();
  if (!supplies) return refuse(supplies.error(), response);
  proto::Standing& answer = *response.mutable_standing();
  answer.set_format(kMessageFormat);
  for (const StandingDuty& duty : *duties) {
    proto::StandingDuty& put = *answer.add_duties();
    *put.mutable_owed() = duty.owed;
    if (duty.session) put_ref(*duty.session, *put.mutable_session());
    put.set_ending(duty.ending == DutyEnding::kPassedOn ? "passed on" : "open");
    put.set_reason(plain_line(duty.reason));
    put.set_since_utc_ms(duty.since_ms);
    put.set_since(since(duty.since_ms));
  }
  for (const MachineNotice& notice : *out) {
    proto::OutNotice& put = *answer.add_machines_out();
    put_ref(notice.told.entry, *put.mutable_entry());
    put.set_machine(notice.machine);
    const Index at = shop_ ? index_of(shop_->shop.machines, notice.machine) : kNone;
    put.set_name(at == kNone ? plain_line(notice.machine)
                             : shop_->shop.machines[static_cast<std::size_t>(at)].name);
    put.set_reason(plain_line(notice.reason));
    put.set_since_utc_ms(notice.told.at_ms);
    put.set_since(since(notice.told.at_ms));
  }
  for (const SupplyNotice& notice : *supplies) {
    proto::SupplyState& put = *answer.add_supplies();
    put.set_supply(plain_line(notice.supply));
    put.set_low(notice.low);
    if (notice.amount) put.set_amount(*notice.amount);
    put.set_since_utc_ms(notice.told.at_ms);
    put.set_since(since(notice.told.at_ms));
  }
}

void Door::list(const proto::AskList& asked, proto::Response& response) {
  if (!has_ledger(response)) return;
  std::optional<EntryRef> session;
  if (asked.has_session()) session = EntryRef{asked.session().device(), asked.session().sequence()};
  auto told = list_now(*views_, clock(), session, store_->device(), options_.now_ms());
  if (!told) return refuse(told.error(), response);
  if (!*told) {
    return refuse(mistake(ErrorCode::kUnknown, session ? "this session is not on this device"
                                                       : "no session has ended on this device yet"),
                  response);
  }
  *response.mutable_list() = **std::move(told);
}

void Door::history(const proto::ReadHistory& asked, proto::Response& response) {
  if (!has_ledger(response)) return;
  auto read = read_history(*store_, shop(), asked, options_.now_ms());
  if (!read) return refuse(read.error(), response);
  *response.mutable_history() = *std::move(read);
}

void Door::export_rows(const proto::ExportRecord& asked, proto::Response& response) {
  if (!has_ledger(response)) return;
  auto exported = export_record(*store_, shop(), asked);
  if (!exported) return refuse(exported.error(), response);
  *response.mutable_exported() = *std::move(exported);
}

void Door::saving(proto::Response& response) {
  proto::Saving& saving = *response.mutable_saving();
  saving.set_format(kMessageFormat);
  saving.set_sheet_loaded(shop_.has_value());
  for (const Error& error : sheet_errors_) put_mistake(error, *saving.add_sheet_mistakes());
  saving.set_text("Nothing is kept: the door was opened without a folder.");
  if (!store_) return;
  const auto counts = store_->counts();
  if (!counts) return refuse(counts.error(), response);
  const auto highest = store_->highest_sequences();
  if (!highest) return refuse(highest.error(), response);
  const auto own = highest->find(store_->device());
  const std::int64_t made = own == highest->end() ? 0 : static_cast<std::int64_t>(own->second);
  saving.set_keeps(true);
  saving.set_entries(counts->entries);
  saving.set_own_entries(made);
  saving.set_devices(counts->devices);
  saving.set_doubtful(counts->doubtful);
  saving.set_device(store_->device());
  saving.set_text(saving_words(*counts, made));
}

}  // namespace chipfall
