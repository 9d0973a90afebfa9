#include "preview/terminal/map_layout.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <numeric>
#include <set>

#include "core/duty/say.h"
#include "preview/terminal/ramp.h"

namespace chipfall {
namespace {

constexpr double kSideWidth_pt = 210;
constexpr double kGutter_pt = 14;
constexpr double kHead_pt = 84;
constexpr double kFoot_pt = 56;
/// Ground outside the walls for what finds no place inside.
constexpr double kBeyondWall_pt = 13;
constexpr double kLegend_pt = 190;
constexpr double kArrow_pt = 14;
constexpr double kLabelGap_pt = 1.2;
constexpr double kWall_pt = 1;  ///< half of a thick edge
constexpr double kNameWidth_pt = 64;
constexpr double kNameReach_pt = 150;
constexpr double kKeyReach_pt = 60;
/// A label this near its mark needs no line.
constexpr double kNear_pt = 6;

constexpr Face kFellFace{8.5, true};
constexpr Face kKeyFace{7.5, true};
constexpr Face kUsedFace{8.5, true};
constexpr Face kIdleFace{7.5};
constexpr Face kRingFace{7.5, false, true};

Polygon polygon_of(const google::protobuf::RepeatedField<double>& figures) {
  Polygon polygon;
  for (int i = 0; i + 1 < figures.size(); i += 2) polygon.push_back({figures[i], figures[i + 1]});
  const bool finite = std::ranges::all_of(
      polygon, [](Point p) { return std::isfinite(p.x) && std::isfinite(p.y); });
  return finite && polygon.size() >= 3 ? polygon : Polygon{};
}

/// A thousand tonnes on one zone is a mistake somewhere.
bool believable(double figure) { return figure >= 0 && figure < 1e9; }

/// From plan metres to the page.
struct Plan {
  Box metres;
  Point corner;  ///< on the page, of the room's upper left
  double pt_per_m = 0;

  Point operator()(Point p) const {
    return {corner.x + pt_per_m * (p.x - metres.low.x),
            corner.y + pt_per_m * (metres.high.y - p.y)};
  }
  Polygon operator()(Polygon polygon) const {
    for (Point& p : polygon) p = (*this)(p);
    return polygon;
  }
  bool near(Point p) const {
    const Point size = metres.high - metres.low;
    return std::isfinite(p.x) && std::isfinite(p.y) && p.x >= metres.low.x - size.x &&
           p.x <= metres.high.x + size.x && p.y >= metres.low.y - size.y &&
           p.y <= metres.high.y + size.y;
  }
};

MapLayout page_for(const std::string& units) {
  MapLayout out;
  out.units = units == "US" ? Units::kUs : Units::kMetric;
  out.width_pt = paper_for(units).long_pt;
  out.height_pt = paper_for(units).short_pt;
  const double right = out.width_pt - kMapMargin_pt;
  const double bottom = out.height_pt - kFoot_pt;
  out.side = {{right - kSideWidth_pt, kHead_pt}, {right, out.height_pt - kMapMargin_pt}};
  out.plan = {{kMapMargin_pt, kHead_pt}, {out.side.low.x - kGutter_pt, bottom}};
  out.list_top_pt = kHead_pt + kLegend_pt;
  return out;
}

Plan fit(const Polygon& room, const Box& frame) {
  Plan plan;
  if (room.empty()) return plan;
  plan.metres = bounds(room);
  const Point size = plan.metres.high - plan.metres.low;
  if (size.x <= 0 || size.y <= 0) return plan;
  const double wide = frame.high.x - frame.low.x - 2 - kBeyondWall_pt;
  const double high = frame.high.y - frame.low.y - 2 * kBeyondWall_pt;
  plan.pt_per_m = std::min(wide / size.x, high / size.y);
  plan.corner = {frame.low.x + 2, frame.low.y + kBeyondWall_pt};
  return plan;
}

void add_zones(const proto::DustMap& map, const Plan& plan, const Polygon& room, MapLayout& out) {
  std::map<std::string, const proto::ZoneDust*> dust;
  for (const proto::ZoneDust& zone : map.answer().zones()) dust[zone.id()] = &zone;
  std::set<std::string> listed;
  for (const proto::Duty& duty : map.answer().duties()) {
    // The open floor's duty names no zone, and its id is empty too.
    if (!duty.zone().empty() || duty.kind() == "zone") listed.insert(duty.zone());
  }
  const auto add = [&](const std::string& id, const Polygon& corners, double height_m) {
    PlanZone zone;
    zone.corners = plan(corners);
    zone.name = id;
    zone.floor = !(height_m > 0);
    zone.listed = listed.contains(id);
    if (const auto found = dust.find(id); found != dust.end()) {
      zone.name = found->second->name();
      zone.known =
          believable(found->second->fallen_g()) && believable(found->second->load_g_per_m2());
      zone.fallen_g = zone.known ? found->second->fallen_g() : 0;
      zone.load_g_per_m2 = zone.known ? found->second->load_g_per_m2() : 0;
      zone.ledge = found->second->kind() == "ledge";
    }
    out.zones.push_back(std::move(zone));
  };
  add("", room, 0);
  for (const proto::MapZone& zone : map.zones()) {
    const Polygon corners = polygon_of(zone.corners_m());
    const bool drawn =
        !corners.empty() && std::ranges::all_of(corners, [&](Point p) { return plan.near(p); });
    if (drawn) add(zone.id(), corners, zone.height_m());
  }
}

void add_machines(const proto::DustMap& map, const Plan& plan, MapLayout& out) {
  for (const proto::MapMachine& machine : map.machines()) {
    const Point at{machine.x_m(), machine.y_m()};
    if (!plan.near(at) || !std::isfinite(machine.heading_deg())) continue;
    PlanMachine drawn;
    drawn.name = machine.name();
    drawn.at = plan(at);
    const double heading = machine.heading_deg() * std::numbers::pi / 180;
    drawn.tip = {drawn.at.x + kArrow_pt * std::cos(heading),
                 drawn.at.y - kArrow_pt * std::sin(heading)};
    drawn.used = machine.used();
    const double ring_pt = plan.pt_per_m * machine.clean_out_m();
    // A ring beyond the page shows nothing, and its dashes would be drawn for hours.
    if (ring_pt > 0 && ring_pt < out.width_pt) {
      drawn.ring_pt = ring_pt;
      drawn.ring = say_length(machine.clean_out_m(), out.units);
    }
    out.machines.push_back(std::move(drawn));
  }
}

double width_of(const MapLabel& label, const Measure& measure) {
  return std::max(widest_pt(label.lines, label.face, measure), measure(label.note, kNoteFace)) + 3;
}

double height_of(const MapLabel& label) {
  return static_cast<double>(label.lines.size()) * line_pt(label.face) +
         (label.note.empty() ? 0 : line_pt(kNoteFace));
}

/// Labels one after the other into a layout.
class Labeller {
 public:
  Labeller(MapLayout& out, const Measure& measure) : out_(out), measure_(measure) {
    for (const PlanMachine& machine : out.machines) {
      marks_.add(grown(box_round(machine.at, 0, 0), kMark_pt + 1));
      marks_.add(grown(box_round(machine.tip, 0, 0), 3));
    }
  }

  /// Inside its zone, clear of whatever is drawn over it.
  bool inside_zone(MapLabel label) {
    const PlanZone& zone = out_.zones[label.of];
    const std::vector<const PlanZone*> above = drawn_over(label.of);
    const Point middle = centroid(zone.corners);
    return put(label, spots_in(bounds(zone.corners), width_of(label, measure_), height_of(label)),
               [&](const Box& box) -> std::optional<double> {
                 if (!lies_in(zone.corners, grown(box, kWall_pt))) return {};
                 for (const PlanZone* other : above) {
                   if (meets(other->corners, box)) return {};
                 }
                 return distance(centre(box), middle) + crowding(box);
               });
  }

  /// Anywhere near, tied with a line where it is not beside its mark.
  bool near(MapLabel label, Point at, double clear, double reach) {
    label.pin = at;
    const auto spots = spots_round(at, width_of(label, measure_), height_of(label), clear, reach);
    return put(label, spots, [&](const Box& box) -> std::optional<double> {
      const Point end = towards(box, at);
      if (!labels_.free(end, at)) return {};
      double cost = distance(end, at);
      if (on_wall(box)) cost += 20;
      for (const PlanZone& zone : out_.zones) {
        // Benches and their edges tell people where they are; open floor is the better ground.
        if (!zone.floor && meets(zone.corners, box)) cost += 14;
      }
      return cost;
    });
  }

  bool on_ring(MapLabel label, const PlanMachine& machine) {
    constexpr int kSpots = 48;
    std::vector<Box> spots;
    for (int i = 0; i < kSpots; ++i) {
      const double angle = 2 * std::numbers::pi * i / kSpots;
      const Point way{std::cos(angle), std::sin(angle)};
      spots.push_back(box_round(machine.at + machine.ring_pt * way, width_of(label, measure_),
                                height_of(label)));
    }
    return put(label, spots, [&](const Box& box) -> std::optional<double> {
      if (!lies_in(out_.zones.front().corners, box)) return {};
      double cost = 0;
      for (const PlanMachine& other : out_.machines) {
        const double off = std::abs(distance(centre(box), other.at) - other.ring_pt);
        if (&other != &machine && other.ring_pt > 0 && off < 12) cost += 12 - off;
      }
      for (const PlanZone& zone : out_.zones) cost += !zone.floor && meets(zone.corners, box);
      return cost;
    });
  }

  static Point towards(const Box& box, Point at) {
    return {std::clamp(at.x, box.low.x, box.high.x), std::clamp(at.y, box.low.y, box.high.y)};
  }

 private:
  bool on_wall(const Box& box) const {
    const Polygon& room = out_.zones.front().corners;
    return meets(room, grown(box, 2)) && !lies_in(room, grown(box, 1));
  }

  /// Figures on a ring or against a mark are read as that machine's.
  double crowding(const Box& box) const {
    constexpr double kDear = 22;
    double cost = 0;
    for (const PlanMachine& machine : out_.machines) {
      const double away = distance(centre(box), machine.at);
      if (away < 24) cost += kDear * (1 - away / 24);
      const double off = std::abs(away - machine.ring_pt);
      if (machine.ring_pt > 0 && off < 14) cost += kDear * (1 - off / 14);
    }
    return cost;
  }

  std::vector<const PlanZone*> drawn_over(Index zone) const {
    const Box box = bounds(out_.zones[zone].corners);
    std::vector<const PlanZone*> above;
    for (size_t i = static_cast<size_t>(zone) + 1; i < out_.zones.size(); ++i) {
      if (!apart(bounds(out_.zones[i].corners), box)) above.push_back(&out_.zones[i]);
    }
    return above;
  }

  bool put(MapLabel& label, const std::vector<Box>& spots, const Cost& cost) {
    const std::optional<Box> box = cheapest(spots, [&](const Box& spot) -> std::optional<double> {
      const Box claimed = grown(spot, kLabelGap_pt);
      if (!holds(out_.plan, claimed) || !labels_.free(claimed) || !marks_.free(spot)) return {};
      return cost(spot);
    });
    if (!box) return false;
    label.box = *box;
    if (label.pin && distance(towards(*box, *label.pin), *label.pin) <= kNear_pt + kMark_pt) {
      label.pin.reset();
    }
    labels_.add(*box);
    out_.labels.push_back(std::move(label));
    return true;
  }

  MapLayout& out_;
  const Measure& measure_;
  Crowd labels_;
  Crowd marks_;
};

/// Figure of a load without its unit, which stands over the column.
std::string load_figure(double load, Units units) {
  const std::string said = say_load(load, units);
  return said.substr(0, said.find(' '));
}

/// The grams in the zone itself, with what lies there now where that fits too; false where neither
/// does.
bool write_grams(Labeller& labeller, const MapLayout& out, Index z) {
  const PlanZone& zone = out.zones[z];
  MapLabel label;
  label.of = z;
  label.lines = {say_mass(zone.fallen_g, out.units)};
  label.face = kFellFace;
  // The lightest shade says enough about less.
  if (ramp_step(zone.load_g_per_m2, out.units) > 0) {
    label.note = load_figure(zone.load_g_per_m2, out.units) + " " + ramp_unit(out.units);
  }
  if (labeller.inside_zone(label)) return true;
  label.note.clear();
  return labeller.inside_zone(label);
}

std::vector<Index> heaviest_first(const std::vector<PlanZone>& zones) {
  std::vector<Index> order(zones.size());
  std::iota(order.begin(), order.end(), 0);
  std::ranges::stable_sort(order, std::greater<>(), [&](Index z) { return zones[z].fallen_g; });
  return order;
}

void label_zones(Labeller& labeller, MapLayout& out) {
  const double room_pt = out.side.high.y - out.list_top_pt - 3 * kRow_pt;
  const auto most_rows = static_cast<size_t>(std::max(0.0, room_pt / kRow_pt));
  for (Index z : heaviest_first(out.zones)) {
    PlanZone& zone = out.zones[z];
    if (!zone.known || (z == 0 && zone.fallen_g == 0 && zone.load_g_per_m2 == 0)) continue;
    if (write_grams(labeller, out, z)) continue;
    if (out.rows.size() >= most_rows) {
      ++out.zones_left_out;
      out.grams_left_out += zone.fallen_g;
      continue;
    }
    zone.key = static_cast<int>(out.rows.size()) + 1;
    out.rows.push_back({zone.key, zone.name, say_mass(zone.fallen_g, out.units),
                        load_figure(zone.load_g_per_m2, out.units)});
    MapLabel label{LabelKind::kKey, z, {std::to_string(zone.key)}, kKeyFace, {}, {}, {}};
    if (!labeller.inside_zone(label)) {
      labeller.near(label, centroid(zone.corners), 3, kKeyReach_pt);
    }
  }
}

void label_machines(Labeller& labeller, const Measure& measure, MapLayout& out) {
  const auto name = [&](size_t m) {
    const PlanMachine& machine = out.machines[m];
    MapLabel label;
    label.kind = machine.used ? LabelKind::kUsed : LabelKind::kIdle;
    label.of = static_cast<Index>(m);
    label.face = machine.used ? kUsedFace : kIdleFace;
    label.lines = wrap(machine.name, label.face, kNameWidth_pt, measure);
    if (label.lines.size() > 3) label.lines.resize(3);
    if (!labeller.near(label, machine.at, kMark_pt + 2, kNameReach_pt)) ++out.names_left_out;
  };
  for (size_t m = 0; m < out.machines.size(); ++m) {
    if (out.machines[m].used) name(m);
  }
  for (size_t m = 0; m < out.machines.size(); ++m) {
    const PlanMachine& machine = out.machines[m];
    if (machine.ring_pt <= 0) continue;
    MapLabel label{LabelKind::kRing, static_cast<Index>(m), {machine.ring}, kRingFace, {}, {}, {}};
    labeller.on_ring(label, machine);
  }
  for (size_t m = 0; m < out.machines.size(); ++m) {
    if (!out.machines[m].used) name(m);
  }
}

}  // namespace

MapLayout lay_out_map(const proto::DustMap& map, const Measure& measure) {
  MapLayout out = page_for(map.answer().units());
  const Polygon room = polygon_of(map.room_m());
  const Plan plan = fit(room, out.plan);
  out.pt_per_m = plan.pt_per_m;
  out.scale_top_pt = plan.corner.y + plan.pt_per_m * (plan.metres.high.y - plan.metres.low.y) + 22;
  if (plan.pt_per_m <= 0) return out;
  add_zones(map, plan, room, out);
  add_machines(map, plan, out);
  Labeller labeller(out, measure);
  label_zones(labeller, out);
  label_machines(labeller, measure, out);
  return out;
}

}  // namespace chipfall
