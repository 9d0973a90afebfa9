#include "core/door/draft.h"

#include <cmath>

#include <algorithm>

#include "core/crew/now.h"
#include "core/door/answer.h"
#include "core/duty/with_pending.h"
#include "core/shop/build.h"
#include "core/shop/check_session.h"
#include "core/shop/mistakes.h"

namespace chipfall {
namespace {

constexpr double kDay_minutes = 1440;

/// What a draft adds to its session file.
void add_to(proto::Session& session, const proto::Session& draft) {
  if (draft.people() != 0) session.set_people(draft.people());
  if (!draft.leave_at().empty()) session.set_leave_at(draft.leave_at());
  for (const std::string& gate : draft.gates_left_open()) {
    const auto& there = session.gates_left_open();
    if (std::ranges::find(there, gate) == there.end()) session.add_gates_left_open(gate);
  }
  if (draft.oily_rags()) session.set_oily_rags(true);
  if (draft.glue()) session.set_glue(true);
}

/// A draft that nobody has named yet gets a name, so that its lists have a title.
proto::Session named(proto::Session draft) {
  if (draft.id().empty()) draft.set_id("session");
  if (draft.name().empty()) draft.set_name("Session");
  return draft;
}

Errors check_draft(const proto::PlanWindDown& draft, const Shop& shop) {
  Errors errors;
  const Spot at(errors);
  if (!draft.has_draft() && !draft.has_session_file()) {
    at.mistake("say what was used: a draft of the session, or a session file");
  }
  if (draft.has_session_file() && draft.draft().uses_size() > 0) {
    at["uses"].mistake("a session file says what was used already; give one or the other");
  }
  if (draft.has_within_minutes()) {
    check_range(at["within_minutes"], draft.within_minutes(), 1, kDay_minutes, "min");
  }
  if (!errors.empty()) return errors;
  return check_session(named(draft.draft()), shop);
}

Result<proto::Session> session_of(const proto::PlanWindDown& draft, const Shop& shop) {
  proto::Session session = named(draft.draft());
  if (draft.has_session_file()) {
    Result<proto::Session> read = load_session_message(text_of(draft.session_file()), shop);
    if (!read) return tl::unexpected(read.error());
    session = *std::move(read);
  }
  const Errors errors = check_draft(draft, shop);
  if (!errors.empty()) return tl::unexpected(errors);
  if (draft.has_session_file()) add_to(session, draft.draft());
  if (draft.extraction_off()) {
    for (proto::Use& use : *session.mutable_uses()) use.set_extraction(false);
  }
  return session;
}

/// Estimates are not worth more digits than this, and short numbers travel in half the bytes.
double rounded(double value, double parts) { return std::round(value * parts) / parts; }

/// From now on, where a file says how far the crew is: the session ends with what is left.
Result<EveningOptions> options_for(const proto::PlanWindDown& draft, const OpenShop& open,
                                   const Session& session, const WindDown& list) {
  EveningOptions out;
  if (draft.has_within_minutes()) out.within_minutes = draft.within_minutes();
  if (!draft.has_now_file()) return out;
  Result<CrewNow> now = load_crew_now(text_of(draft.now_file()), open.shop, session, list);
  if (!now) return tl::unexpected(now.error());
  out.crew = std::move(now->crew);
  out.done = std::move(now->done);
  out.begin_minute = now->clock_minute;
  return out;
}

}  // namespace

Text text_of(const proto::SheetText& text) {
  Text out{text.name(), text.content()};
  if (text.has_message()) out.message = text.message();
  return out;
}

Result<OpenShop> open_shop(const Text& sheet) {
  const Result<proto::ShopSheet> message = load_shop_message(sheet, builtin_library());
  if (!message) return tl::unexpected(message.error());
  Shop shop = build_shop(*message, builtin_library());
  Overlay overlay = overlay_of(shop);
  ShopClock clock(shop.time_zone);
  return OpenShop{std::move(shop), std::move(overlay), std::move(clock), sheet.content,
                  message->SerializeAsString()};
}

Result<Worked> work_out(const proto::PlanWindDown& draft, const OpenShop& open,
                        const Found& found) {
  Result<proto::Session> message = session_of(draft, open.shop);
  if (!message) return tl::unexpected(message.error());
  Worked worked;
  worked.message = *std::move(message);
  worked.session = build_session(worked.message, open.shop);
  worked.state = found.state;
  if (draft.has_state_file()) {
    Result<ShopState> state = load_state(text_of(draft.state_file()), open.shop);
    if (!state) return tl::unexpected(state.error());
    worked.state = *std::move(state);
  }
  WindDown list = wind_down(open.shop, open.overlay, worked.state, worked.session);
  if (!draft.has_state_file()) list = with_pending(open.shop, std::move(list), found.waiting);
  const Result<EveningOptions> options = options_for(draft, open, worked.session, list);
  if (!options) return tl::unexpected(options.error());
  worked.evening = plan_evening(open.shop, worked.session, std::move(list), *options);
  return worked;
}

void put_owed(const Worked& worked, const OpenShop& open, proto::SessionEnded& ended) {
  const proto::WindDown list = answer(open.shop, worked.state, worked.session, worked.evening);
  for (const proto::Duty& duty : list.duties()) {
    proto::DutyOwed& owed = *ended.add_owed();
    owed.set_id(duty.id());
    owed.set_title(duty.title());
    owed.set_kind(duty.kind());
    owed.set_minutes(rounded(duty.minutes(), 10));
    owed.set_published_minutes(rounded(duty.published_minutes(), 10));
    owed.set_weight(rounded(duty.weight(), 1000));
    owed.set_safety(duty.safety());
    owed.set_zone(duty.zone());
    owed.set_machine(duty.machine());
    owed.set_bin(duty.bin());
    owed.set_place(duty.place());
  }
}

}  // namespace chipfall
