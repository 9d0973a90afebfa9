#include "core/shop/check_sheet.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/shop/check_library.h"
#include "core/shop/load.h"
#include "core/shop/local_time.h"

namespace chipfall {
namespace {

bool check_lengths(const Spot& root, const proto::ShopSheet& sheet) {
  bool fit = check_length(root, "zones", sheet.zones_size(), kMostZones);
  fit &= check_length(root, "machines", sheet.machines_size(), kMostMachines);
  fit &= check_length(root, "gates", sheet.gates_size(), kMostListed);
  fit &= check_length(root, "collectors", sheet.collectors_size(), kMostListed);
  fit &= check_length(root, "bins", sheet.bins_size(), kMostListed);
  fit &= check_length(root["air"], "filters", sheet.air().filters_size(), kMostListed);
  fit &= check_length(root, "supplies", sheet.supplies_size(), kMostListed);
  fit &= check_length(root, "tools", sheet.tools_size(), kMostListed);
  fit &= check_length(root, "stations", sheet.stations_size(), kMostListed);
  fit &= check_length(root, "duties", sheet.duties_size(), kMostListed);
  fit &= check_length(root, "machine_kinds", sheet.machine_kinds_size(), kMostListed);
  fit &= check_length(root, "stocks", sheet.stocks_size(), kMostListed);
  return fit;
}

/// Where there is no database to ask, the name's form has to do.
void check_time_zone(const Spot& at, const std::string& name) {
  if (!looks_like_time_zone(name)) {
    at.mistake(
        fmt::format("{} is not a time zone; give one such as \"America/Chicago\", or \"UTC\"{}",
                    in_quotes(name), did_you_mean(name, common_zones())));
  } else if (zone_known(name) == ZoneKnown::kNo) {
    at.mistake(fmt::format("{} is not in the time zone database; give one such as "
                           "\"America/Chicago\", or \"UTC\"{}",
                           in_quotes(name), did_you_mean(name, common_zones())),
               ErrorCode::kUnknown);
  }
}

void check_policy(const Spot& at, const proto::Policy& policy) {
  check_word_if_any<Units>(at["units"], policy.units());
  if (policy.has_minimum_minutes()) {
    check_range(at["minimum_minutes"], policy.minimum_minutes(), 0, 240, "min");
  }
  if (policy.has_fine_factor()) check_range(at["fine_factor"], policy.fine_factor(), 1, 20);
  if (policy.has_default_capture()) {
    check_range(at["default_capture"], policy.default_capture(), 0, 1);
  }
  if (policy.has_clean_g_per_m2()) {
    check_range(at["clean_g_per_m2"], policy.clean_g_per_m2(), 0.1, 500, "g/m2");
  }
  if (policy.has_people_per_heavy_bag()) {
    check_range(at["people_per_heavy_bag"], policy.people_per_heavy_bag(), 1, 10, "people");
  }
}

/// What machines and duties of the sheet may name.
struct Names {
  Known kinds{"a kind of machine", {}};
  Known duties{"a standard duty", {}};
  Known gates{"a gate", {}};
  Known collectors{"a collector", {}};
  Known vacs{"a collector of kind \"vac\"", {}};
  Known zones{"a zone", {}};
};

Names names_in(const proto::ShopSheet& sheet, const Library& library) {
  Names names;
  names.kinds.ids = ids_of(sheet.machine_kinds());
  for (const MachineKind& kind : library.machine_kinds) names.kinds.ids.push_back(kind.id);
  names.duties.ids = ids_of(sheet.duties());
  for (const StandardDuty& duty : library.duties) names.duties.ids.push_back(duty.id);
  names.gates.ids = ids_of(sheet.gates());
  names.collectors.ids = ids_of(sheet.collectors());
  for (const proto::Collector& collector : sheet.collectors()) {
    if (collector.kind() == word(CollectorKind::kVac)) names.vacs.ids.push_back(collector.id());
  }
  names.zones.ids = ids_of(sheet.zones());
  return names;
}

void check_machine(const Spot& at, const proto::Machine& machine, const Names& names,
                   const Polygon& outline) {
  check_reference(at["kind"], machine.kind(), names.kinds);
  check_place(at["at"], machine.has_at(), machine.at(), outline);
  check_range(at["heading_deg"], machine.heading_deg(), -360, 360, "degrees");
  const bool has_gate = !machine.gate().empty();
  const bool has_collector = !machine.collector().empty();
  if (has_gate) check_reference(at["gate"], machine.gate(), names.gates);
  if (has_collector) check_reference(at["collector"], machine.collector(), names.collectors);
  if (has_gate && has_collector) {
    at.mistake("has a gate and a collector of its own; keep one: a gate knows its collector");
  }
  check_shares(at["capture"], machine.capture());
  if (machine.has_capture() && !has_gate && !has_collector) {
    at["capture"].mistake("nothing captures here; name the machine's gate or collector");
  }
  if (machine.has_cut()) check_cut(at["cut"], machine.cut());
  if (!machine.zone().empty()) check_reference(at["zone"], machine.zone(), names.zones);
}

void check_tool(const Spot& at, const proto::CleaningTool& tool, const Names& names,
                const Polygon& outline) {
  const auto kind = check_word<ToolKind>(at["kind"], tool.kind());
  check_place(at["hangs_at"], tool.has_hangs_at(), tool.hangs_at(), outline);
  if (kind == ToolKind::kVac) {
    check_reference(at["collector"], tool.collector(), names.vacs);
  } else if (kind && !tool.collector().empty()) {
    at["collector"].mistake(fmt::format("a {} fills no bin; leave the collector out", word(*kind)));
  }
}

/// Kinds of place that have lists of their own, where their entries give `at`.
std::string_view own_list(PlaceKind kind) {
  switch (kind) {
    case PlaceKind::kGate:
      return "gates";
    case PlaceKind::kCollector:
      return "collectors";
    case PlaceKind::kFilter:
      return "air.filters";
    case PlaceKind::kDustBin:
    case PlaceKind::kTrashBin:
      return "bins";
    default:
      return {};
  }
}

void check_station(const Spot& at, const proto::Station& station) {
  const auto kind = check_word<PlaceKind>(at["kind"], station.kind());
  if (kind && !own_list(*kind).empty()) {
    at["kind"].mistake(
        fmt::format("a {} is no station: the sheet lists it in `{}`; give it its "
                    "`at` there",
                    word(*kind), own_list(*kind)));
  }
  check_place(at["at"], station.has_at(), station.at(), {});  // a container may stand outdoors
}

/// Entries that the sheet adds to the library's.
void check_own_entries(const Spot& root, const proto::ShopSheet& sheet, const Library& library,
                       const Names& names) {
  check_ids(root, "machine_kinds", ids_of(sheet.machine_kinds()));
  for (int i = 0; i < sheet.machine_kinds_size(); ++i) {
    check_machine_kind(root.entry("machine_kinds", i), sheet.machine_kinds(i), &names.duties);
  }
  check_ids(root, "stocks", ids_of(sheet.stocks()));
  for (int i = 0; i < sheet.stocks_size(); ++i) {
    check_stock(root.entry("stocks", i), sheet.stocks(i));
  }
  check_ids(root, "duties", ids_of(sheet.duties()));
  for (int i = 0; i < sheet.duties_size(); ++i) {
    const Spot at = root.entry("duties", i);
    check_duty(at, sheet.duties(i));
    // Kinds and stocks of a shop stand before the library's; duties stand beside them.
    if (index_of(library.duties, sheet.duties(i).id()) != kNone) {
      at["id"].mistake(fmt::format("\"{}\" is a standard duty already; choose another id",
                                   sheet.duties(i).id()));
    }
  }
}

}  // namespace

Errors check_sheet(const proto::ShopSheet& sheet, const Library& library) {
  Errors errors;
  const Spot root(errors);
  if (!check_lengths(root, sheet)) return errors;
  if (sheet.name().empty()) root["name"].mistake("missing: give the shop's name");
  check_time_zone(root["time_zone"], sheet.time_zone());
  const Polygon outline = check_room(root, sheet);
  check_zones(root, sheet, outline);
  check_place(root["sink_in"], sheet.has_sink_in(), sheet.sink_in(), outline);
  const Names names = names_in(sheet, library);
  check_ids(root, "machines", ids_of(sheet.machines()));
  for (int i = 0; i < sheet.machines_size(); ++i) {
    check_machine(root.entry("machines", i), sheet.machines(i), names, outline);
  }
  check_gates(root, sheet, outline);
  check_collectors(root, sheet);
  check_bins(root, sheet);
  check_air(root["air"], sheet.air(), outline);
  check_supplies(root, sheet);
  check_ids(root, "tools", ids_of(sheet.tools()));
  for (int i = 0; i < sheet.tools_size(); ++i) {
    check_tool(root.entry("tools", i), sheet.tools(i), names, outline);
  }
  check_ids(root, "stations", ids_of(sheet.stations()));
  for (int i = 0; i < sheet.stations_size(); ++i) {
    check_station(root.entry("stations", i), sheet.stations(i));
  }
  check_policy(root["policy"], sheet.policy());
  check_own_entries(root, sheet, library, names);
  return errors;
}

}  // namespace chipfall
