#include "core/duty/with_pending.h"

#include <algorithm>

#include <fmt/format.h>

#include "core/duty/order.h"

namespace chipfall {
namespace {

constexpr double kDay_minutes = 1440;

bool cleans(const Duty& duty) {
  return duty.kind == DutyKind::kZone || duty.kind == DutyKind::kCommon;
}

/// The list's own duty that settles this one.
Duty* same_in(std::vector<Duty>& duties, const Duty& pending) {
  const auto found = std::ranges::find_if(duties, [&](const Duty& own) {
    if (own.id == pending.id) return true;
    // A share of the common dust is only a part of its zone: the whole zone settles it, not the
    // other way round.
    return pending.zone != kNone && own.zone == pending.zone && own.kind == DutyKind::kZone &&
           cleans(pending);
  });
  return found == duties.end() ? nullptr : &*found;
}

void settle(const OwedDuty& owed, Duty& own) {
  own.why += fmt::format("{}{}", own.why.empty() ? "" : "; ", owed.since);
  own.safety |= owed.duty.safety;
  own.weight = std::max(own.weight, owed.duty.weight);
}

bool of_the_building(const Shop& shop, const std::string& id) {
  const Index standard = index_of(shop.duties, id.substr(0, id.find(':')));
  return standard != kNone && shop.duties[standard].when == When::kLockUp;
}

double person_minutes(const Duty& duty) { return duty.people * duty.minutes; }

double rank(const Duty& duty, double age_minutes) {
  return duty.weight * (1 + age_minutes / kDay_minutes);
}

}  // namespace

WindDown with_pending(const Shop& shop, WindDown list, const std::vector<PendingDuty>& pending) {
  double own_minutes = 0;
  for (const Duty& duty : list.duties) own_minutes += person_minutes(duty);
  double room = std::max(kPendingShare * own_minutes, shop.policy.minimum_minutes - own_minutes);
  struct Asking {
    Duty duty;
    double rank = 0;
  };
  std::vector<Asking> asking;
  for (const OwedDuty& owed : merged(pending)) {
    if (of_the_building(shop, owed.duty.id)) continue;
    Duty duty = duty_of(shop, owed);
    if (Duty* own = same_in(list.duties, duty)) {
      settle(owed, *own);
      continue;
    }
    const double urgency = rank(duty, owed.duty.age_minutes);
    asking.push_back({std::move(duty), urgency});
  }
  std::ranges::stable_sort(asking, [](const Asking& a, const Asking& b) {
    return std::pair(!a.duty.safety, -a.rank) < std::pair(!b.duty.safety, -b.rank);
  });
  int waiting = 0;
  for (Asking& ask : asking) {
    // Two pending ones for one zone: the first took it.
    if (same_in(list.duties, ask.duty) != nullptr) continue;
    const double minutes = person_minutes(ask.duty);
    if (!ask.duty.safety && minutes > room) {
      ++waiting;
      continue;
    }
    if (!ask.duty.safety) room -= minutes;
    list.duties.push_back(std::move(ask.duty));
  }
  if (waiting > 0) {
    list.notes.push_back(fmt::format("{} older {} for the next list or the closing volunteer.",
                                     waiting, waiting == 1 ? "duty waits" : "duties wait"));
  }
  for (Duty& duty : list.duties) {
    duty.after.clear();
    duty.needs.clear();
  }
  list.duties = in_order(shop, std::move(list.duties));
  add_up(shop, list);
  return list;
}

}  // namespace chipfall
