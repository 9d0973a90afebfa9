#include "core/door/answer_lock_up.h"

#include <algorithm>

#include "core/door/answer_crew.h"
#include "core/duty/minutes.h"
#include "core/shop/words.h"

namespace chipfall {
namespace {

constexpr int kAnswerFormat = 1;

template <typename List>
std::string id_at(const List& list, Index index) {
  return index == kNone ? std::string() : list[index].id;
}

void put_owed(const PendingDuty& from, proto::OwedBy& out) {
  out.set_duty(from.id);
  out.set_device(from.session_device);
  out.set_sequence(from.session_sequence);
  out.set_session(from.session);
  out.set_age_minutes(from.age_minutes);
  out.set_passed_on(from.passed_on);
  out.set_reason(from.reason);
}

void put_words(const Shop& shop, const Duty& duty, proto::ClosingDuty& out) {
  out.set_id(duty.id);
  out.set_kind(std::string(word(duty.kind)));
  out.set_title(duty.title);
  out.set_why(duty.why);
  out.set_caution(duty.caution);
  for (const std::string& step : duty.steps) out.add_steps(step);
  out.set_place(duty.place);
  out.set_phase(std::string(word(duty.phase)));
  for (const std::string& id : duty.after) out.add_after(id);
  out.set_zone(id_at(shop.zones, duty.zone));
  out.set_machine(id_at(shop.machines, duty.machine));
  out.set_bin(id_at(shop.bins, duty.bin));
  out.set_tool(id_at(shop.tools, duty.tool));
  if (duty.tool != kNone) out.set_tool_name(shop.tools[duty.tool].name);
}

void put_duty(const Shop& shop, const LockUpDuty& line, proto::ClosingDuty& out) {
  const Duty& duty = line.duty;
  put_words(shop, duty, out);
  out.set_building(line.building);
  out.set_placed(line.placed);
  out.set_x_m(duty.at.x);
  out.set_y_m(duty.at.y);
  out.set_minutes(duty.minutes);
  out.set_minutes_p80(p80_minutes(duty.minutes, duty.spread));
  out.set_walk_minutes(duty.errand_minutes);
  out.set_published_minutes(duty.published_minutes);
  out.set_weight(duty.weight);
  out.set_safety(duty.safety);
  out.set_people(duty.people);
  out.set_standard(line.standard);
  out.set_since(line.since);
  for (const PendingDuty& from : line.from) {
    put_owed(from, *out.add_owed_by());
    out.set_age_minutes(std::max(out.age_minutes(), from.age_minutes));
  }
}

void put_sign_off(const LockUp& list, const SignOff& check, proto::SignOff& out) {
  out.set_id(check.id);
  out.set_title(check.title);
  out.set_if_not(check.if_not);
  for (size_t i = 0; i < list.duties.size(); ++i) {
    if (std::ranges::count(check.duties, list.duties[i].duty.id) == 0) continue;
    out.add_duties(list.duties[i].duty.id);
    out.add_orders(static_cast<int>(i) + 1);
  }
}

}  // namespace

proto::LockUp answer_lock_up(const Shop& shop, const ClosingPlan& plan) {
  const Evening& evening = plan.evening;
  proto::LockUp out;
  out.set_format(kAnswerFormat);
  out.set_shop(shop.name);
  out.set_units(std::string(word(shop.policy.units)));
  out.set_people(static_cast<int>(evening.crew.people.size()));
  out.set_minutes_median(evening.list.minutes_median);
  out.set_minutes_p80(evening.list.minutes_p80);
  put_finish(std::nullopt, evening.finish, *out.mutable_finish());
  out.set_walk_minutes(plan.walk_minutes);
  out.set_walk_bound_minutes(plan.walk_bound_minutes);
  out.set_walk_proven(plan.walk_proven);
  for (const LockUpDuty& line : plan.list.duties) {
    proto::ClosingDuty& put = *out.add_duties();
    put_duty(shop, line, put);
    put.set_order(out.duties_size());
  }
  for (Index done : evening.done) out.mutable_duties(done)->set_done(true);
  put_lanes(shop, evening, *out.mutable_lanes());
  put_tools_of_lanes(out);
  put_passed_on(evening, out);
  for (const SignOff& check : plan.list.sign_off) {
    put_sign_off(plan.list, check, *out.add_sign_off());
  }
  for (const std::string& caution : plan.list.cautions) out.add_cautions(caution);
  for (const std::string& note : plan.list.notes) out.add_notes(note);
  out.set_sharing(evening.sharing);
  return out;
}

}  // namespace chipfall
