#include "core/duty/bin_outlook.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <tuple>

#include <fmt/format.h>

#include "core/dust/removal.h"
#include "core/duty/say.h"

namespace chipfall {
namespace {

/// An older surprise has been weighed since; told as well, it would only contradict.
constexpr size_t kMostDoubts = 1;

constexpr const char* kWeekdays[] = {"Sunday",   "Monday", "Tuesday", "Wednesday",
                                     "Thursday", "Friday", "Saturday"};
constexpr const char* kMonths[] = {"January",   "February", "March",    "April",
                                   "May",       "June",     "July",     "August",
                                   "September", "October",  "November", "December"};

int whole(double day) { return static_cast<int>(std::floor(day)); }

bool is_known(const BinEvent& event) { return event.kind != BinEvent::Kind::kPush; }

/// The days that count for the rhythm: from the first of which any bin knows something; today only
/// where something fell already.
struct Counted {
  int first = 0;
  int last = -1;
};

Counted counted_days(const BinPasts& pasts, double now_day) {
  const int today = whole(now_day);
  Counted days{today, today - 1};
  for (const BinPast& past : pasts.bins) {
    for (const BinEvent& event : past.events) {
      if (event.day > now_day) continue;
      days.first = std::min(days.first, whole(event.day));
      if (event.kind == BinEvent::Kind::kPush && whole(event.day) == today) days.last = today;
    }
  }
  return days;
}

std::string seen_in_words(Sighting sighting) {
  switch (sighting) {
    case Sighting::kRoom:
      return "seen with room";
    case Sighting::kHalf:
      return "seen half full";
    case Sighting::kFull:
      return "seen full";
    case Sighting::kWeakPull:
      break;
  }
  return "weak pull";
}

std::string last_word(const std::vector<BinEvent>& events, double now_day) {
  const BinEvent* last = nullptr;
  const BinEvent* looked = nullptr;  // before the last, on the same day
  for (const BinEvent& event : events) {
    if (!is_known(event) || event.day > now_day) continue;
    looked = last != nullptr && last->kind == BinEvent::Kind::kSighting &&
                     whole(last->day) == whole(event.day)
                 ? last
                 : nullptr;
    last = &event;
  }
  if (last == nullptr) return "nobody has looked yet";
  const std::string when = say_on_day(last->day, now_day);
  if (last->kind == BinEvent::Kind::kSighting) {
    return fmt::format("{} {}", seen_in_words(last->sighting), when);
  }
  if (looked != nullptr) {
    return fmt::format("{}, then emptied {}", seen_in_words(looked->sighting), when);
  }
  return fmt::format("emptied {}", when);
}

/// Share of the volume expected to have fallen since the last emptying before the event at `end`;
/// since the first event where there was none.
struct SinceEmptied {
  double share = 0;
  bool emptied = false;
};

SinceEmptied since_emptied(const std::vector<BinEvent>& events, size_t end) {
  SinceEmptied since;
  for (size_t i = end; i-- > 0 && !since.emptied;) {
    since.emptied = events[i].kind == BinEvent::Kind::kEmptied;
    if (events[i].kind == BinEvent::Kind::kPush) since.share += events[i].expected_share;
  }
  return since;
}

/// Share expected to have fallen since somebody last looked or emptied.
double since_known(const std::vector<BinEvent>& events, size_t end) {
  double share = 0;
  for (size_t i = end; i-- > 0 && !is_known(events[i]);) share += events[i].expected_share;
  return share;
}

/// Why the look `events[i]` surprised those who expected `before`; empty where it did not.
std::string doubt_of(const Shop& shop, const Bin& bin, const std::vector<BinEvent>& events,
                     size_t i, const Belief& before, double now_day) {
  const SinceEmptied since = since_emptied(events, i);
  const std::string fallen = since.emptied && since.share > 0
                                 ? say_volume(since.share * bin.volume_m3, shop.policy.units)
                                 : "";
  return explained(before, events[i].sighting, say_on_day(events[i].day, now_day), fallen);
}

/// What the first `upto` events say: the belief, and the surprises on the way to it.
void fold_into(BinOutlook& out, const Shop& shop, const std::vector<BinEvent>& events, size_t upto,
               double now_day) {
  Folding folding;
  for (size_t i = 0; i < upto; ++i) {
    const BinEvent& event = events[i];
    const bool recent_look =
        event.kind == BinEvent::Kind::kSighting && event.day >= now_day - kDoubtsKept_days;
    if (recent_look) {
      std::string text =
          doubt_of(shop, shop.bins[out.bin], events, i, folding.at(event.day), now_day);
      if (!text.empty()) out.doubts.insert(out.doubts.begin(), std::move(text));
    }
    folding.take(event);
  }
  out.belief = folding.at(now_day);
  if (out.doubts.size() > kMostDoubts) out.doubts.resize(kMostDoubts);
}

/// The events of the days that count for the rhythm.
std::vector<BinEvent> of_days(const std::vector<BinEvent>& events, const Counted& days) {
  const double from = std::max(days.first, days.last - kRhythm_days + 1);
  const auto first = std::ranges::lower_bound(events, from, {}, &BinEvent::day);
  return {first, events.end()};
}

FullLift full_lift(const Lift& lift, double full_kg) {
  return {multipliers_at(lift, lift.hands_start_cm), multipliers_at(lift, lift.hands_end_cm),
          recommended_limit_kg(lift), lifting_index(full_kg, lift)};
}

BinOutlook outlook_of(const Shop& shop, Index index, const BinPast& past, const Counted& days,
                      double now_day) {
  const Bin& bin = shop.bins[index];
  const std::vector<BinEvent> events = in_event_order(past.events);
  const auto later = [&](const BinEvent& event) { return event.day > now_day; };
  const auto upto = static_cast<size_t>(std::ranges::find_if(events, later) - events.begin());
  BinOutlook out;
  out.bin = index;
  fold_into(out, shop, events, upto, now_day);
  out.expected_fill = expected_fill(out.belief);
  out.chance_full = chance_full(out.belief);
  out.chance_to_empty = chance_full(out.belief, bin.empty_at);
  out.rate = expected_rate(out.belief);
  const Rhythm rhythm = rhythm_of(of_days(events, days), days.first, days.last);
  out.due = forecast(out.belief, rhythm, whole(now_day), bin.empty_at);
  out.full = forecast(out.belief, rhythm, whole(now_day));
  out.known = std::any_of(events.begin(), events.begin() + static_cast<long>(upto), is_known);
  out.evidence = last_word(events, now_day);
  const SinceEmptied since = since_emptied(events, upto);
  out.since_emptied_m3 = since.share * bin.volume_m3;
  out.emptied_once = since.emptied;
  out.look_first = out.known ? since_known(events, upto) > kLookFirst : since.share >= kWorthALook;
  out.bulk_kg_per_m3 = past.caught_m3 > 0 ? past.caught_g / 1000 / past.caught_m3
                                          : kUnknownStockKgPerM3 / kExpansion[kCoarse];
  out.full_kg = bin.tare_kg + out.bulk_kg_per_m3 * bin.volume_m3;
  if (bin.lift) {
    out.lift = full_lift(*bin.lift, out.full_kg);
    if (out.lift->index > 1) out.people = shop.policy.people_per_heavy_bag;
  }
  return out;
}

}  // namespace

std::vector<BinOutlook> bin_outlooks(const Shop& shop, const BinPasts& pasts, double now_day) {
  const Counted days = counted_days(pasts, now_day);
  std::vector<BinOutlook> out;
  for (size_t b = 0; b < shop.bins.size(); ++b) {
    out.push_back(outlook_of(shop, static_cast<Index>(b), pasts.bins[b], days, now_day));
  }
  return out;
}

std::vector<BinOutlook> in_order_of_need(std::vector<BinOutlook> outlooks) {
  std::ranges::stable_sort(outlooks, {}, [](const BinOutlook& bin) {
    const double twentieths = std::round(20 * bin.chance_to_empty);
    return std::tuple(!bin.known, !bin.known && !bin.look_first, -twentieths,
                      bin.due.days_to_half_chance.value_or(kForecast_days + 1),
                      bin.full.days_to_half_chance.value_or(kForecast_days + 1),
                      -bin.expected_fill);
  });
  return outlooks;
}

BinState state_of(const BinOutlook& outlook, double filter_fine_g) {
  BinState state;
  state.filter_fine_g = filter_fine_g;
  if (!outlook.known) return state;
  state.fill_share = outlook.expected_fill;
  const auto chances = fill_chances(outlook.belief);
  for (int i = 0; i < kFills; ++i) {
    if (chances[i] > 0) state.fills.push_back({i * kFillStep, chances[i]});
  }
  return state;
}

std::string say_date(double day) {
  const std::chrono::sys_days date{std::chrono::days{whole(day)}};
  const std::chrono::year_month_day parts{date};
  return fmt::format("{} {} {}", kWeekdays[std::chrono::weekday(date).c_encoding()],
                     static_cast<unsigned>(parts.day()),
                     kMonths[static_cast<unsigned>(parts.month()) - 1]);
}

std::string say_day(double day, double now_day) {
  const int ahead = whole(day) - whole(now_day);
  if (ahead == 0) return "today";
  if (ahead == -1) return "yesterday";
  if (ahead == 1) return "tomorrow";
  if (std::abs(ahead) >= 7) return say_date(day);
  const std::chrono::sys_days date{std::chrono::days{whole(day)}};
  return kWeekdays[std::chrono::weekday(date).c_encoding()];
}

std::string say_on_day(double day, double now_day) {
  const std::string said = say_day(day, now_day);
  const bool bare = said == "today" || said == "yesterday" || said == "tomorrow";
  return bare ? said : fmt::format("on {}", said);
}

std::string say_pace(const BinOutlook& outlook) {
  if (!outlook.known) return {};
  if (outlook.rate >= kNotableRate) {
    return fmt::format(
        "it fills about {:.1f} times as fast as its machines suggest; the forecast allows for that",
        outlook.rate);
  }
  if (outlook.rate <= 1 / kNotableRate) {
    return fmt::format(
        "it fills at about {} of the pace that its machines suggest; the forecast allows for that",
        say_percent(outlook.rate));
  }
  return {};
}

std::string say_chance(double chance) {
  if (chance < 0.05) return "less than 1 in 20";
  if (chance > 0.95) return "more than 19 in 20";
  return fmt::format("{} in 10", std::clamp(static_cast<int>(std::lround(10 * chance)), 1, 9));
}

std::string say_forecast(const BinOutlook& outlook, double now_day) {
  if (!outlook.known) return "cannot be said until somebody looks";
  const std::optional<int>& half = outlook.full.days_to_half_chance;
  const std::optional<int>& nine = outlook.full.days_to_nine_in_ten;
  const auto by = [&](int days) { return fmt::format("by {}", say_day(now_day + days, now_day)); };
  const std::optional<int>& due = outlook.due.days_to_half_chance;
  if (!due) return fmt::format("not due within the next {} days", kForecast_days);
  const std::string due_text = *due == 0 ? "due now" : fmt::format("due {}", by(*due));
  if (!half) return fmt::format("{}; not full within the next {} days", due_text, kForecast_days);
  if (*half == 0) {
    if (nine && *nine == 0) return fmt::format("full now ({})", say_chance(outlook.chance_full));
    std::string now = fmt::format("probably full now ({}", say_chance(outlook.chance_full));
    return nine ? fmt::format("{}; 9 in 10 {})", now, by(*nine)) : fmt::format("{})", now);
  }
  if (!nine) return fmt::format("{}, probably full {}", due_text, by(*half));
  if (*nine == *half) return fmt::format("{}, full {} (9 in 10)", due_text, by(*half));
  return fmt::format("{}, probably full {} (9 in 10 {})", due_text, by(*half), by(*nine));
}

}  // namespace chipfall
