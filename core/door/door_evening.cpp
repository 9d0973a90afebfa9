#include "core/crew/closing.h"
#include "core/door/answer_lock_up.h"
#include "core/door/door.h"
#include "core/door/refusal.h"
#include "core/shop/check_session.h"

/// Requests that need all that the ledger remembers of the shop: the lock-up, and the
/// coordinator's.
namespace chipfall {
namespace {

constexpr int kMostPeople = 50;  ///< as in a session
constexpr int kMostDone = 1000;  ///< ids; the longest list has a tenth
constexpr double kMostMinutes = 1440;
constexpr std::int64_t kMinute_ms = 60'000;
constexpr int kMostRoundDays = 60;  ///< no forecast reaches further

Error at(const char* path, const std::string& message) {
  Error error = mistake(ErrorCode::kMistake, message);
  error.place.path = path;
  return error;
}

Errors mistakes_in(const proto::AskLockUp& asked) {
  Errors errors;
  if (asked.people() < 0 || asked.people() > kMostPeople) {
    errors.push_back(at("people", "give 1 to 50 people"));
  }
  if (!asked.begin_at().empty() && !minute_of_day(asked.begin_at())) {
    errors.push_back(at("begin_at", "not a time of day; give HH:MM, such as 21:30"));
  }
  const double within = asked.within_minutes();
  if (asked.has_within_minutes() && !(within >= 1 && within <= kMostMinutes)) {
    errors.push_back(at("within_minutes", "give 1 to 1440 minutes"));
  }
  if (asked.done_size() > kMostDone) errors.push_back(at("done", "lists over 1000 duties"));
  return errors;
}

ClosingOptions options_of(const proto::AskLockUp& asked) {
  ClosingOptions options;
  options.people = std::max(1, asked.people());
  options.done.assign(asked.done().begin(), asked.done().end());
  if (asked.has_within_minutes()) options.within_minutes = asked.within_minutes();
  options.begin_minute = minute_of_day(asked.begin_at());
  return options;
}

}  // namespace

OrError<const Remembered*> Door::remembered() {
  const std::int64_t now_ms = options_.now_ms();
  const std::int64_t minute_over_ms = now_ms - now_ms % kMinute_ms + kMinute_ms;
  const bool still_so =
      remembered_ && remembered_at_ == changes_ && remembered_->now_ms == minute_over_ms;
  if (!still_so) {
    std::optional<Past> read_already;
    if (remembered_ && remembered_at_ == changes_) read_already = std::move(remembered_->past);
    remembered_.reset();
    OrError<Remembered> told =
        remember(*store_, *views_, *shop_, minute_over_ms, std::move(read_already));
    if (!told) return tl::unexpected(told.error());
    remembered_.emplace(*std::move(told));
    remembered_at_ = changes_;
  }
  return &*remembered_;
}

OrError<Found> Door::found() {
  if (!views_) return Found{clean_state(shop_->shop), {}};
  const OrError<const Remembered*> told = remembered();
  if (!told) return tl::unexpected(told.error());
  return Found{(*told)->state, waiting_for_members((*told)->pending)};
}

OrError<void> Door::record_passed_on(const ToRecord& made) {
  std::vector<proto::Entry> entries;
  for (const proto::DutyPassedOn& passed : made.passed_on) {
    proto::Entry& entry = entries.emplace_back();
    entry.set_event_utc_ms(made.entry.event_utc_ms());
    entry.set_member(made.entry.member());
    *entry.mutable_duty_passed_on() = passed;
    proto::EntryName& session = *entry.mutable_duty_passed_on()->mutable_duty()->mutable_session();
    session.set_device(made.entry.device());
    session.set_sequence(made.entry.sequence());
  }
  return entries.empty() ? OrError<void>() : store_->append(entries, options_.now_ms());
}

void Door::lock_up(const proto::AskLockUp& asked, proto::Response& response) {
  if (!has_ledger(response) || !has_shop(response)) return;
  const Errors errors = mistakes_in(asked);
  if (!errors.empty()) return refuse(errors, response);
  const OrError<const Remembered*> told = remembered();
  if (!told) return refuse(told.error(), response);
  const OrError<LockUpTonight> tonight = tonight_of(**told, *views_, shop_->shop);
  if (!tonight) return refuse(tonight.error(), response);
  LockUp list = chipfall::lock_up(shop_->shop, (*told)->state, (*told)->pending, *tonight);
  const ClosingPlan plan = plan_closing(shop_->shop, std::move(list), options_of(asked));
  *response.mutable_lock_up() = answer_lock_up(shop_->shop, plan);
}

void Door::coordinator(const proto::Request& request, proto::Response& response) {
  if (!has_ledger(response) || !has_shop(response)) return;
  const proto::AskCoordinator& asked = request.has_bins()    ? request.bins()
                                       : request.has_round() ? request.round()
                                                             : request.coordinator();
  std::optional<int> next_round_days;
  if (asked.has_next_round_days()) {
    if (asked.next_round_days() < 0 || asked.next_round_days() > kMostRoundDays) {
      return refuse(at("next_round_days", "give 0 to 60 days"), response);
    }
    next_round_days = asked.next_round_days();
  }
  const OrError<const Remembered*> told = remembered();
  if (!told) return refuse(told.error(), response);
  const OrError<CoordinatorView> view = coordinator_view(**told, *views_, *shop_, next_round_days);
  if (!view) return refuse(view.error(), response);
  if (request.has_bins()) {
    *response.mutable_bins() = bins_answer(shop_->shop, *view);
  } else if (request.has_round()) {
    *response.mutable_round() = round_answer(shop_->shop, *view);
  } else {
    *response.mutable_coordinator() = coordinator_answer(shop_->shop, *view);
  }
}

}  // namespace chipfall
