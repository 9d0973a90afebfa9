#include "core/shop/check_session.h"

#include <algorithm>
#include <set>

#include <fmt/format.h>

#include "core/shop/load.h"

namespace chipfall {
namespace {

constexpr double kDayMinutes = 1440;
constexpr double kMostGrams = 1e7;  ///< ten tonnes: more than any zone or filter holds

template <typename List>
Known known(std::string_view noun, const List& list) {
  Known out{noun, {}};
  for (const auto& entry : list) out.ids.push_back(entry.id);
  return out;
}

std::string_view material(Family family) {
  switch (family) {
    case Family::kMetal:
      return "metal";
    case Family::kPlastic:
      return "plastic";
    default:
      return "wood";
  }
}

/// Metal machines cut metal only; the others cut wood and plastic.
void check_material(const Spot& at, const Machine& machine, const Stock& stock) {
  const bool metal = stock.family == Family::kMetal;
  if (metal == machine.kind.metal) return;
  at.mistake(fmt::format("{} cuts {}; {} is {}; name another stock or machine", machine.id,
                         machine.kind.metal ? "metal" : "wood", stock.id, material(stock.family)));
}

/// What the uses of a session may name.
struct Names {
  Known machines;
  Known stocks;
};

void check_use(const Spot& at, const proto::Use& use, const Shop& shop, const Names& names) {
  check_positive(at["minutes"], use.minutes(), kDayMinutes, "min");
  if (use.has_from_minute()) {
    check_range(at["from_minute"], use.from_minute(), 0, kDayMinutes, "min");
  }
  if (use.has_moisture_percent()) {
    check_range(at["moisture_percent"], use.moisture_percent(), 0, 200, "%");
  }
  const bool known_machine = check_reference(at["machine"], use.machine(), names.machines);
  const bool known_stock = check_reference(at["stock"], use.stock(), names.stocks);
  if (!known_machine) return;
  const Machine& machine = shop.machines[index_of(shop.machines, use.machine())];
  if (known_stock) check_material(at["stock"], machine, *shop.stock(use.stock()));
  if (use.extraction() && machine.gate == kNone && machine.collector == kNone) {
    at["extraction"].mistake(
        fmt::format("{} has no extraction; leave this out or say false", machine.id));
  }
}

void check_minutes(const Spot& root, const proto::Session& session) {
  if (!check_range(root["minutes"], session.minutes(), 0, kDayMinutes, "min")) return;
  if (session.minutes() == 0) return;
  double end = 0;
  std::string last;
  for (const proto::Use& use : session.uses()) {
    const double use_end = use.from_minute() + use.minutes();
    if (!(use_end > end && use_end <= 2 * kDayMinutes)) continue;
    end = use_end;
    last = use.machine();
  }
  if (end <= session.minutes()) return;
  root["minutes"].mistake(
      fmt::format("the session ends after {} min, but the use of {} lasts to minute {}; make the "
                  "session longer or leave its minutes out",
                  session.minutes(), in_quotes(last), end));
}

void check_gates_left_open(const Spot& root, const proto::Session& session, const Shop& shop) {
  const Known gates = known("a gate", shop.gates);
  std::set<std::string> seen;
  for (int i = 0; i < session.gates_left_open_size(); ++i) {
    const Spot at = root.entry("gates_left_open", i);
    const std::string& gate = session.gates_left_open(i);
    if (check_reference(at, gate, gates) && !seen.insert(gate).second) {
      at.mistake(fmt::format("\"{}\" is listed twice; keep one", gate));
    }
  }
}

void check_grams(const Spot& at, double grams) { check_range(at, grams, 0, kMostGrams, "g"); }

/// Each entry is about another bin or zone.
void check_once(const Spot& at, const std::string& id, std::set<std::string>& seen) {
  if (!seen.insert(id).second) at.mistake(fmt::format("\"{}\" is listed twice; keep one", id));
}

void check_bin_states(const Spot& root, const proto::ShopState& state, const Shop& shop) {
  const Known bins = known("a bin", shop.bins);
  std::set<std::string> seen;
  for (int i = 0; i < state.bins_size(); ++i) {
    const Spot at = root.entry("bins", i);
    const proto::BinState& bin = state.bins(i);
    if (check_reference(at["bin"], bin.bin(), bins)) check_once(at["bin"], bin.bin(), seen);
    check_range(at["fill_share"], bin.fill_share(), 0, 2);
    check_grams(at["filter_fine_g"], bin.filter_fine_g());
  }
}

void check_zone_states(const Spot& root, const proto::ShopState& state, const Shop& shop) {
  const Known zones = known("a zone", shop.zones);
  std::set<std::string> seen;
  for (int i = 0; i < state.zones_size(); ++i) {
    const Spot at = root.entry("zones", i);
    const proto::ZoneState& zone = state.zones(i);
    // No name is the open floor.
    if (zone.zone().empty() || check_reference(at["zone"], zone.zone(), zones)) {
      check_once(at["zone"], zone.zone(), seen);
    }
    check_grams(at["shavings_g"], zone.shavings_g());
    check_grams(at["chips_g"], zone.chips_g());
    check_grams(at["coarse_g"], zone.coarse_g());
    check_grams(at["fine_g"], zone.fine_g());
  }
}

void check_finished(const Spot& root, const proto::ShopState& state) {
  for (int i = 0; i < state.finished_size(); ++i) {
    const proto::FinishedDuty& finished = state.finished(i);
    const Spot at = root.entry("finished", i);
    check_word<DutyKind>(at["kind"], finished.kind());
    check_positive(at["estimated_minutes"], finished.estimated_minutes(), kDayMinutes, "min");
    check_positive(at["actual_minutes"], finished.actual_minutes(), kDayMinutes, "min");
  }
}

}  // namespace

std::optional<int> minute_of_day(std::string_view text) {
  if (text.size() != 5 || text[2] != ':') return std::nullopt;
  for (size_t i : {0u, 1u, 3u, 4u}) {
    if (text[i] < '0' || text[i] > '9') return std::nullopt;
  }
  const int hour = (text[0] - '0') * 10 + (text[1] - '0');
  const int minute = (text[3] - '0') * 10 + (text[4] - '0');
  if (hour > 23 || minute > 59) return std::nullopt;
  return hour * 60 + minute;
}

Errors check_session(const proto::Session& session, const Shop& shop) {
  Errors errors;
  const Spot root(errors);
  bool fits = check_length(root, "uses", session.uses_size(), kMostUses);
  fits &= check_length(root, "gates_left_open", session.gates_left_open_size(), kMostListed);
  if (!fits) return errors;
  check_id(root["id"], session.id());
  if (session.people() != 0) check_range(root["people"], session.people(), 1, 50, "people");
  if (!session.leave_at().empty() && !minute_of_day(session.leave_at())) {
    root["leave_at"].mistake(fmt::format("{} is not a time of day; give HH:MM, such as \"21:30\"",
                                         in_quotes(session.leave_at())));
  }
  const Names names{known("a machine", shop.machines), known("a stock", shop.stocks)};
  for (int i = 0; i < session.uses_size(); ++i) {
    check_use(root.entry("uses", i), session.uses(i), shop, names);
  }
  check_minutes(root, session);
  check_gates_left_open(root, session, shop);
  return errors;
}

Errors check_state(const proto::ShopState& state, const Shop& shop) {
  Errors errors;
  const Spot root(errors);
  // Nothing stands twice, so that more than the shop has is a mistake whatever it is.
  bool fits = check_length(root, "bins", state.bins_size(), kMostListed);
  fits &= check_length(root, "zones", state.zones_size(), kMostZones + 1);
  fits &= check_length(root, "out_of_order", state.out_of_order_size(), kMostMachines);
  fits &= check_length(root, "finished", state.finished_size(), kMostFinished);
  if (!fits) return errors;
  check_bin_states(root, state, shop);
  check_zone_states(root, state, shop);
  check_finished(root, state);
  const Known machines = known("a machine", shop.machines);
  std::set<std::string> seen;
  for (int i = 0; i < state.out_of_order_size(); ++i) {
    const Spot at = root.entry("out_of_order", i);
    if (check_reference(at, state.out_of_order(i), machines)) {
      check_once(at, state.out_of_order(i), seen);
    }
  }
  return errors;
}

}  // namespace chipfall
