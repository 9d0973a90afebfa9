#include "core/door/map_answer.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "core/door/answer.h"
#include "core/dust/layer.h"
#include "core/dust/removal.h"
#include "core/dust/throw.h"
#include "core/shop/words.h"

namespace chipfall {
namespace {

constexpr double kDegreesPerRadian = 180 / std::numbers::pi;
/// Half axes, in standard deviations, of the ellipse that holds 95 % of a planar normal:
/// sqrt(-2 ln 0.05).
const double kEllipse_sd = std::sqrt(-2 * std::log(0.05));

void put(const Polygon& polygon, google::protobuf::RepeatedField<double>* figures) {
  for (const Point p : polygon) {
    figures->Add(p.x);
    figures->Add(p.y);
  }
}

/// The middle, or where that lies outside (an L), the middle of a corner's triangle that does not.
Point label_place(const Polygon& polygon) {
  const Point middle = centroid(polygon);
  if (contains(polygon, middle)) return middle;
  const std::size_t corners = polygon.size();
  for (std::size_t i = 0; i < corners; ++i) {
    const Point inside =
        1.0 / 3 * (polygon[i] + polygon[(i + 1) % corners] + polygon[(i + corners - 1) % corners]);
    if (contains(polygon, inside)) return inside;
  }
  return middle;
}

void put_layer(const PerClass& lying_g, double solid_kg_per_m3, double area_m2,
               proto::MapZone& out) {
  out.set_lying_g(sum(lying_g));
  out.set_area_m2(area_m2);
  if (!(area_m2 > 0)) return;
  out.set_load_g_per_m2(sum(lying_g) / area_m2);
  PerClass limited = lying_g;
  limited[kShavings] = limited[kChips] = 0;
  const double load = limited_g(limited) / area_m2;
  out.set_share_of_limit(load / layer_limit_g_per_m2());
  const double bulk = bulk_density_kg_per_m3(limited, solid_kg_per_m3);
  if (!(bulk > 0)) return;
  out.set_layer_mm(layer_mm(load, bulk));
  out.set_limit_mm(layer_limit_mm(bulk));
}

void put_throws(const Machine& machine, const UseDust* used, proto::MapMachine& out) {
  for (const ChipClass chips : kAllClasses) {
    if (!(machine.kind.class_shares[chips] > 0)) continue;
    const Throw thrown = placed(machine.kind.thrown[chips], machine.at, machine.heading_rad);
    proto::MapThrow& put = *out.add_throws();
    put.set_class_(std::string(name(chips)));
    put.set_x_m(thrown.centre.x);
    put.set_y_m(thrown.centre.y);
    put.set_heading_deg(thrown.heading_rad * kDegreesPerRadian);
    put.set_along_m(kEllipse_sd * thrown.along_m);
    put.set_across_m(kEllipse_sd * thrown.across_m);
    if (used != nullptr) put.set_escaped_g(used->escaped_g[chips]);
  }
}

/// Everything that stands still.
proto::DustMap plan_of(const Shop& shop, const ShopState& state) {
  proto::DustMap out;
  out.set_shop(shop.name);
  out.set_units(std::string(word(shop.policy.units)));
  put(shop.outline, out.mutable_room_m());
  for (std::size_t m = 0; m < shop.machines.size(); ++m) {
    const Machine& machine = shop.machines[m];
    proto::MapMachine& drawn = *out.add_machines();
    drawn.set_id(machine.id);
    drawn.set_name(machine.name);
    drawn.set_kind(machine.kind.name);
    drawn.set_x_m(machine.at.x);
    drawn.set_y_m(machine.at.y);
    drawn.set_heading_deg(machine.heading_rad * kDegreesPerRadian);
    drawn.set_out(state.out_of_order[m]);
  }
  for (const Bin& bin : shop.bins) {
    proto::MapBin& drawn = *out.add_bins();
    drawn.set_id(bin.id);
    drawn.set_name(bin.name);
    drawn.set_x_m(bin.at.x);
    drawn.set_y_m(bin.at.y);
    drawn.set_empty_at_share(bin.empty_at);
  }
  const auto place = [&out](const std::string& id, const std::string& name, std::string_view kind,
                            const std::optional<Point>& at) {
    if (!at) return;
    proto::MapPlace& drawn = *out.add_places();
    drawn.set_id(id);
    drawn.set_name(name);
    drawn.set_kind(std::string(kind));
    drawn.set_x_m(at->x);
    drawn.set_y_m(at->y);
  };
  place("", "", "start", shop.start);
  for (const Gate& gate : shop.gates) place(gate.id, gate.name, word(PlaceKind::kGate), gate.at);
  for (const Collector& collector : shop.collectors) {
    place(collector.id, collector.name, word(PlaceKind::kCollector), collector.at);
  }
  for (const AirFilter& filter : shop.filters) {
    place(filter.id, filter.name, word(PlaceKind::kFilter), filter.at);
  }
  for (const CleaningTool& tool : shop.tools) place(tool.id, tool.name, "tool", tool.hangs_at);
  for (const Station& station : shop.stations) {
    place(station.id, station.name, word(station.kind), station.at);
  }
  return out;
}

/// Zones from low to high, each with what `told` says of it; then the open floor.
template <typename Layer>
void put_zones(const Shop& shop, const Layer& told, proto::DustMap& out) {
  std::vector<Index> low_first;
  for (std::size_t z = 0; z < shop.zones.size(); ++z) low_first.push_back(static_cast<Index>(z));
  std::ranges::stable_sort(low_first, {}, [&](Index z) { return shop.zones[z].height_m; });
  for (const Index z : low_first) {
    const Zone& zone = shop.zones[z];
    proto::MapZone& drawn = *out.add_zones();
    drawn.set_id(zone.id);
    drawn.set_name(zone.name);
    drawn.set_kind(std::string(word(zone.kind)));
    drawn.set_height_m(zone.height_m);
    put(zone.corners, drawn.mutable_corners_m());
    const Point label = label_place(zone.corners);
    drawn.set_label_x_m(label.x);
    drawn.set_label_y_m(label.y);
    told(z, drawn);
  }
  proto::MapZone& floor = *out.mutable_open_floor();
  floor.set_name(name_of(shop, kNone));
  floor.set_kind(std::string(word(ZoneKind::kFloor)));
  told(kNone, floor);
}

}  // namespace

proto::DustMap session_map(const Shop& shop, const ShopState& state, const Session& session,
                           const Evening& evening) {
  const SessionDust& dust = evening.list.dust;
  proto::DustMap out = plan_of(shop, state);
  put_zones(
      shop,
      [&](Index z, proto::MapZone& drawn) {
        const ZoneDust& lies = z == kNone ? dust.open_floor : dust.zones[z];
        const auto found = std::ranges::find(evening.list.zones, z, &ZoneCase::zone);
        const double fallen_g = sum(lies.fallen_g);
        drawn.set_fallen_g(fallen_g);
        put_layer(lies.lying_g(),
                  lies.fallen_solid_m3 > 0 ? fallen_g / 1000 / lies.fallen_solid_m3
                                           : kUnknownStockKgPerM3,
                  found == evening.list.zones.end() ? 0 : found->area_m2, drawn);
      },
      out);
  for (std::size_t m = 0; m < shop.machines.size(); ++m) {
    proto::MapMachine& drawn = *out.mutable_machines(static_cast<int>(m));
    const UseDust* used = nullptr;
    for (std::size_t u = 0; u < session.uses.size(); ++u) {
      if (session.uses[u].machine == static_cast<Index>(m)) used = &dust.uses[u];
    }
    if (used != nullptr) {
      drawn.set_used(true);
      drawn.set_clean_out_m(used->clean_out_m);
    }
    put_throws(shop.machines[m], used, drawn);
  }
  *out.mutable_answer() = answer(shop, state, session, evening);
  for (int b = 0; b < out.bins_size(); ++b) {
    out.mutable_bins(b)->set_fill_share(out.answer().bins(b).after_share());
    out.mutable_bins(b)->set_known(out.answer().bins(b).known());
  }
  return out;
}

proto::DustMap shop_map(const OpenShop& open, const Remembered* remembered) {
  const Shop& shop = open.shop;
  const ShopState clean = clean_state(shop);
  const ShopState& state = remembered != nullptr ? remembered->state : clean;
  proto::DustMap out = plan_of(shop, state);
  put_zones(
      shop,
      [&](Index z, proto::MapZone& drawn) {
        const double exposed = z == kNone ? area_m2(open.overlay.open_floor)
                                          : std::abs(signed_area_m2(shop.zones[z].corners));
        put_layer(z == kNone ? state.open_floor : state.zones[z], kUnknownStockKgPerM3, exposed,
                  drawn);
      },
      out);
  for (std::size_t m = 0; m < shop.machines.size(); ++m) {
    put_throws(shop.machines[m], nullptr, *out.mutable_machines(static_cast<int>(m)));
  }
  if (remembered == nullptr) return out;
  for (const BinOutlook& outlook : remembered->bins) {
    proto::MapBin& drawn = *out.mutable_bins(outlook.bin);
    drawn.set_fill_share(outlook.expected_fill);
    drawn.set_known(outlook.known);
  }
  return out;
}

}  // namespace chipfall
