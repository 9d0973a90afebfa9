#include "core/door/record.h"

#include <algorithm>

#include <fmt/format.h>

#include "core/door/answer.h"
#include "core/door/recording.h"

namespace chipfall {
namespace {

/// An entry is 64 KiB at most; the rest of it needs little.
constexpr std::size_t kMostKeptSheetBytes = kMostEntryBytes - 1024;

bool has_control_sign(std::string_view text) {
  return std::ranges::any_of(text, [](char c) {
    return (static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\t') || c == 0x7F;
  });
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

EntryRef ref_of(const proto::EntryName& name) { return {name.device(), name.sequence()}; }

void put_ref(const EntryRef& ref, proto::EntryName& name) {
  name.set_device(ref.device);
  name.set_sequence(ref.sequence);
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
