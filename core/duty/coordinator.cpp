#include "core/duty/coordinator.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

#include <fmt/format.h>

#include "core/dust/layer.h"
#include "core/duty/bin_outlook.h"
#include "core/duty/say.h"
#include "core/duty/zones.h"

namespace chipfall {
namespace {

constexpr size_t kMostBehind = 5;

/// One event in a supply's life; at equal times words come before bags, so that "2 left" is what
/// stands before the next bag is taken.
struct Turn {
  double day = 0;
  bool is_bag = false;
  const SupplyFact* fact = nullptr;
};

struct Count {
  std::optional<double> left;
  bool told_low = false;
  double told_day = 0;
};

void take(const Turn& turn, Count& count) {
  if (turn.is_bag) {
    if (count.left) count.left = std::max(0.0, *count.left - 1);
    return;
  }
  const std::optional<double>& amount = turn.fact->amount;
  const bool usable = amount && std::isfinite(*amount) && *amount >= 0;
  if (turn.fact->low) {
    count.left = usable ? amount : std::nullopt;
    count.told_low = true;
    count.told_day = turn.day;
  } else {
    count.left = usable ? std::optional(count.left.value_or(0) + *amount) : std::nullopt;
    count.told_low = false;
  }
}

std::string supply_text(const Supply& supply, const SupplyStock& stock, const Count& count,
                        double now_day) {
  const auto figure = [](double value) { return fmt::format("{:.4g}", value); };
  if (stock.left && *stock.left > supply.low_at && count.told_low) {
    return fmt::format("{} left: {}, told to be low {}", supply.unit, figure(*stock.left),
                       say_on_day(count.told_day, now_day));
  }
  if (stock.left) {
    return stock.low ? fmt::format("{} left: {}; order now (the sheet says at {})", supply.unit,
                                   figure(*stock.left), figure(supply.low_at))
                     : fmt::format("{} left: {}; order at {}", supply.unit, figure(*stock.left),
                                   figure(supply.low_at));
  }
  if (stock.low) {
    return fmt::format("told to be low {}; nobody said how many {} are left",
                       say_on_day(count.told_day, now_day), supply.unit);
  }
  return fmt::format("nobody has counted the {} yet", supply.unit);
}

int monday_of(double day) {
  // Day 0 was a Thursday, so day 4 a Monday.
  const int whole = static_cast<int>(std::floor(day));
  const int since = (((whole - 4) % 7) + 7) % 7;
  return whole - since;
}

std::string kind_in_words(DutyKind kind) {
  switch (kind) {
    case DutyKind::kZone:
      return "Cleaning zones";
    case DutyKind::kCommon:
      return "Shared fine dust";
    case DutyKind::kReset:
      return "Leaving machines as found";
    case DutyKind::kBin:
      return "Bins";
    case DutyKind::kFilter:
      return "Filters";
    case DutyKind::kAir:
      return "Air";
    case DutyKind::kClose:
      break;
  }
  return "Closing";
}

std::string held_in_words(const EstimatesHeld& week, double now_day) {
  if (week.duties < kFewDuties || week.promised_minutes < kFewMinutes) return {};
  const bool this_week = monday_of(now_day) == week.monday;
  const bool last_week = monday_of(now_day) == week.monday + 7;
  const std::string when = this_week   ? "this week"
                           : last_week ? "last week"
                                       : fmt::format("week of {}", say_day(week.monday, now_day));
  std::string text =
      fmt::format("{}, {}: {} promised, {} taken, over {} duties", kind_in_words(week.kind), when,
                  say_minutes(week.promised_minutes), say_minutes(week.taken_minutes), week.duties);
  const double ratio = week.taken_minutes / week.promised_minutes;
  if (ratio > 1.15) {
    return text +
           fmt::format(": {} longer, which the next lists allow for", say_percent(ratio - 1));
  }
  if (ratio < 0.87) {
    return text +
           fmt::format(": {} shorter, which the next lists allow for", say_percent(1 - ratio));
  }
  return text + ": the estimates held";
}

std::string layer_text(const Shop& shop, const LayerNotice& layer, double now_day) {
  const std::string limit = say_load(layer_limit_g_per_m2(), shop.policy.units);
  const std::string place = name_of(shop, layer.zone);
  if (layer.days_to_limit && *layer.days_to_limit <= 0) {
    return fmt::format(
        "{}: at the housekeeping limit of {} or over it. Dust burns and can explode: vac it before "
        "anyone cuts again, no blowing off, no sparks",
        place, limit);
  }
  std::string text = fmt::format("{}: {} of the housekeeping limit of {}", place,
                                 say_percent(layer.share_of_limit), limit);
  if (!layer.days_to_limit) return text + "; it does not grow as the shop cleans now";
  const double day = now_day + std::floor(*layer.days_to_limit);
  return text +
         fmt::format("; reaches it about {} as the shop cleans now", say_on_day(day, now_day));
}

}  // namespace

std::vector<std::string> first_things_to_try(const Shop& shop, Index machine) {
  std::vector<std::string> steps{
      "Is an emergency stop still latched? Turn or pull it out: on the machine, at the door, at "
      "the "
      "collector.",
      "Does it want a card, a key or a permit first?",
      "Are guards and covers quite closed? Many machines do not start otherwise."};
  if (machine != kNone && shop.machines[machine].collector != kNone) {
    const Collector& collector = shop.collectors[shop.machines[machine].collector];
    steps.push_back(fmt::format(
        "Does it wait for its extraction? Look at {}: on, its stop released{}.", collector.name,
        shop.machines[machine].gate != kNone ? ", this gate open" : ""));
  }
  steps.emplace_back("Has its breaker tripped? Reset it once; if it trips again, leave it off.");
  steps.emplace_back("Has it a control box? Off, a minute's wait, on again.");
  steps.emplace_back(
      "Never by-pass a guard or an interlock, and open nothing that is live. What these do not "
      "mend "
      "is for trained people: tag it out, unplugged or locked out.");
  return steps;
}

std::vector<SupplyStock> supplies_left(const Shop& shop, std::vector<SupplyFact> facts,
                                       const BinPasts& bins, const DayOf& day_of, double now_day) {
  std::ranges::sort(facts, {}, [](const SupplyFact& fact) {
    return std::tuple(fact.at_ms, fact.id, fact.supply, fact.low, fact.amount.value_or(-1));
  });
  std::vector<std::vector<Turn>> turns(shop.supplies.size());
  std::set<std::string> known;
  for (const SupplyFact& fact : facts) {
    const Index supply = index_of(shop.supplies, fact.supply);
    const double day = day_of(fact.at_ms);
    if (supply == kNone || day > now_day) continue;
    if (!fact.id.empty() && !known.insert(fact.id).second) continue;
    turns[supply].push_back({day, false, &fact});
  }
  for (size_t b = 0; b < shop.bins.size(); ++b) {
    if (shop.bins[b].bag == kNone) continue;
    for (double day : bins.bins[b].bags_replaced) {
      if (day <= now_day) turns[shop.bins[b].bag].push_back({day, true, nullptr});
    }
  }
  std::vector<SupplyStock> out;
  for (size_t s = 0; s < shop.supplies.size(); ++s) {
    std::ranges::stable_sort(turns[s], {},
                             [](const Turn& turn) { return std::pair(turn.day, turn.is_bag); });
    Count count;
    for (const Turn& turn : turns[s]) take(turn, count);
    SupplyStock& stock = out.emplace_back();
    stock.supply = static_cast<Index>(s);
    stock.left = count.left;
    stock.low = count.told_low || (count.left && *count.left <= shop.supplies[s].low_at);
    stock.text = supply_text(shop.supplies[s], stock, count, now_day);
  }
  std::ranges::stable_sort(out, {}, [](const SupplyStock& stock) { return !stock.low; });
  return out;
}

std::vector<LayerNotice> layer_notices(const Shop& shop, const std::vector<LayerNow>& layers,
                                       double now_day) {
  std::vector<LayerNotice> out;
  for (const LayerNow& layer : layers) {
    if (!(layer.area_m2 > 0)) continue;
    LayerNotice notice;
    notice.zone = layer.zone;
    notice.load_g_per_m2 = limited_g(layer.lying_g) / layer.area_m2;
    notice.share_of_limit = notice.load_g_per_m2 / layer_limit_g_per_m2();
    const double weekly = limited_g(layer.weekly_g) / layer.area_m2;
    const double missing = layer_limit_g_per_m2() - notice.load_g_per_m2;
    if (missing <= 0) {
      notice.days_to_limit = 0;
    } else if (weekly > 0 && 7 * missing / weekly <= kLayerForecast_days) {
      notice.days_to_limit = 7 * missing / weekly;
    }
    if (!notice.days_to_limit && notice.share_of_limit < kWatchedShareOfLimit) continue;
    notice.text = layer_text(shop, notice, now_day);
    out.push_back(std::move(notice));
  }
  std::ranges::stable_sort(out, {}, [](const LayerNotice& notice) {
    return std::pair(notice.days_to_limit.value_or(2 * kLayerForecast_days),
                     -notice.share_of_limit);
  });
  return out;
}

std::vector<EstimatesHeld> estimates_held(const std::vector<TimedDuty>& timed, double now_day) {
  std::map<std::pair<int, DutyKind>, EstimatesHeld> weeks;
  const int first = monday_of(now_day) - 7 * (kEstimateWeeks - 1);
  for (const TimedDuty& duty : timed) {
    const double ratio = duty.taken_minutes / duty.promised_minutes;
    const bool usable =
        duty.promised_minutes > 0 && ratio >= 1 / kForgottenTimes && ratio <= kForgottenTimes;
    if (!usable || !(duty.day <= now_day) || duty.day < first) continue;
    const int monday = monday_of(duty.day);
    EstimatesHeld& week = weeks[{-monday, duty.kind}];
    week.monday = monday;
    week.kind = duty.kind;
    ++week.duties;
    week.promised_minutes += duty.promised_minutes;
    week.taken_minutes += duty.taken_minutes;
  }
  std::vector<EstimatesHeld> out;
  for (auto& [key, week] : weeks) {
    week.text = held_in_words(week, now_day);
    out.push_back(std::move(week));
  }
  return out;
}

std::vector<FallenBehind> fallen_behind(const Shop& shop, const std::vector<ZoneEnding>& endings,
                                        double now_day) {
  std::map<Index, FallenBehind> zones;
  for (const ZoneEnding& ending : endings) {
    if (!(ending.day <= now_day) || ending.day < now_day - kBehind_days) continue;
    FallenBehind& zone = zones[ending.zone];
    zone.zone = ending.zone;
    ++zone.listed;
    zone.passed_on += ending.passed_on;
  }
  std::vector<FallenBehind> out;
  for (auto& [index, zone] : zones) {
    if (zone.passed_on < kLeastPassedOn || zone.passed_on < kLeastPassedShare * zone.listed) {
      continue;
    }
    zone.text = fmt::format(
        "{}: passed on {} of {} times in the last {:.0f} weeks. Is it hard to reach, is its tool "
        "far "
        "off, or does the list ask for too much there?",
        name_of(shop, zone.zone), zone.passed_on, zone.listed, kBehind_days / 7);
    out.push_back(std::move(zone));
  }
  std::ranges::stable_sort(
      out, {}, [](const FallenBehind& zone) { return std::pair(-zone.passed_on, zone.listed); });
  if (out.size() > kMostBehind) out.resize(kMostBehind);
  return out;
}

}  // namespace chipfall
