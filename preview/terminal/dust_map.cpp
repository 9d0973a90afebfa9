#include "preview/terminal/dust_map.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

#include "core/duty/say.h"
#include "core/shop/units.h"
#include "preview/terminal/canvas.h"
#include "preview/terminal/map_layout.h"
#include "preview/terminal/ramp.h"

namespace chipfall {
namespace {

constexpr Face kTitle{19, true};
constexpr Face kSubtitle{12};
constexpr Face kSmall{8.5};
constexpr Face kSmallBold{8.5, true};
constexpr Ink kPlate = ink_of(0xfffcf6);
constexpr double kHatchGap_pt = 5;

Ink shade(const PlanZone& zone, Units units) { return kRamp[ramp_step(zone.load_g_per_m2, units)]; }

void draw_zone(Canvas& canvas, const PlanZone& zone, Units units) {
  const Ink ground = shade(zone, units);
  canvas.fill(zone.corners, ground);
  if (zone.listed) canvas.hatch(zone.corners, kHatchGap_pt, {text_on(ground), 0.5, {}});
  if (zone.ledge) {
    canvas.outline(zone.corners, {kWhite, 1.6, {}});
    canvas.outline(zone.corners, {kBlack, 0.9, {2.2, 1.6}});
  } else if (zone.floor) {
    canvas.outline(zone.corners, {kSoft, 0.5, {}});
  } else {
    canvas.outline(zone.corners, {kBlack, 1.5, {}});
  }
}

void draw_rings(Canvas& canvas, const MapLayout& map) {
  canvas.clip(map.zones.front().corners);
  for (const PlanMachine& machine : map.machines) {
    if (machine.ring_pt <= 0) continue;
    canvas.circle(machine.at, machine.ring_pt, {kPlate, 2.6, {}});
    canvas.circle(machine.at, machine.ring_pt, {kBlack, 1.1, {7, 4}});
  }
  canvas.unclip();
}

void draw_arrow(Canvas& canvas, const PlanMachine& machine, const Pen& pen) {
  const double length = distance(machine.at, machine.tip);
  const Point way = (1 / length) * (machine.tip - machine.at);
  const Point across{-way.y, way.x};
  const Point neck = machine.tip - 4.5 * way;
  canvas.line({machine.at + kMark_pt * way, neck}, pen);
  const Polygon head{machine.tip, neck + 2.6 * across, neck - 2.6 * across};
  canvas.fill(head, pen.ink);
  canvas.outline(head, {pen.ink, pen.width_pt - 1, {}});
}

void draw_machine(Canvas& canvas, const PlanMachine& machine) {
  canvas.disc(machine.at, kMark_pt + 1.4, kPlate);
  draw_arrow(canvas, machine, {kPlate, 3.6, {}});
  draw_arrow(canvas, machine, {kBlack, machine.used ? 1.5 : 1.1, {}});
  canvas.disc(machine.at, kMark_pt, machine.used ? kBlack : kPlate);
  canvas.circle(machine.at, kMark_pt, {kBlack, 1.1, {}});
}

void draw_lines(Canvas& canvas, const MapLabel& label, Ink ink, const Measure& measure) {
  double y = label.box.low.y + ascent_pt(label.face);
  for (const std::string& line : label.lines) {
    canvas.text({centre(label.box).x - measure(line, label.face) / 2, y}, line, label.face, ink);
    y += line_pt(label.face);
  }
  y = label.box.high.y - line_pt(kNoteFace) + ascent_pt(kNoteFace);
  canvas.text({centre(label.box).x - measure(label.note, kNoteFace) / 2, y}, label.note, kNoteFace,
              ink);
}

Polygon plate(const Box& box) { return rectangle(box.low.x, box.low.y, box.high.x, box.high.y); }

void draw_pin(Canvas& canvas, const MapLabel& label) {
  if (!label.pin) return;
  const Point end{std::clamp(label.pin->x, label.box.low.x, label.box.high.x),
                  std::clamp(label.pin->y, label.box.low.y, label.box.high.y)};
  canvas.line({end, *label.pin}, {kPlate, 2.2, {}});
  canvas.line({end, *label.pin}, {kBlack, 0.7, {}});
}

void draw_label(Canvas& canvas, const MapLayout& map, const MapLabel& label,
                const Measure& measure) {
  if (label.kind == LabelKind::kFell) {
    // On its zone's own shade, so that the hatching does not run through the figures.
    const Ink ground = shade(map.zones[label.of], map.units);
    canvas.fill(plate(label.box), ground);
    draw_lines(canvas, label, text_on(ground), measure);
    return;
  }
  canvas.fill(plate(label.box), kPlate);
  if (label.kind == LabelKind::kUsed || label.kind == LabelKind::kKey) {
    canvas.outline(plate(label.box), {kBlack, label.kind == LabelKind::kUsed ? 0.9 : 0.5, {}});
  }
  draw_lines(canvas, label, kBlack, measure);
}

void draw_plan(Canvas& canvas, const MapLayout& map, const Measure& measure) {
  for (const PlanZone& zone : map.zones) draw_zone(canvas, zone, map.units);
  canvas.outline(map.zones.front().corners, {kBlack, 3, {}});
  draw_rings(canvas, map);
  for (const MapLabel& label : map.labels) draw_pin(canvas, label);
  for (const PlanMachine& machine : map.machines) draw_machine(canvas, machine);
  for (const MapLabel& label : map.labels) draw_label(canvas, map, label, measure);
}

void draw_head(Canvas& canvas, const MapLayout& map, const proto::WindDown& answer,
               const Measure& measure) {
  const double width = map.width_pt - 2 * kMapMargin_pt;
  const std::string shop = answer.shop().empty() ? "Woodshop" : answer.shop();
  canvas.text({kMapMargin_pt, 42}, shorten("Where the dust fell: " + shop, kTitle, width, measure),
              kTitle);
  const proto::Balance& dust = answer.balance();
  const auto mass = [&](double grams) { return say_mass(std::max(0.0, grams), map.units); };
  canvas.text({kMapMargin_pt, 58}, shorten(answer.session(), kSubtitle, width, measure), kSubtitle);
  canvas.text(
      {kMapMargin_pt, 72},
      shorten(fmt::format("{} of wood turned to chips and dust: {} caught in bins, {} on "
                          "the zones, {} still in the air, {} filtered or blown out.",
                          mass(answer.removed_grams()), mass(dust.in_bins()), mass(dust.on_zones()),
                          mass(dust.airborne()), mass(dust.filtered() + dust.vented())),
              kSmall, width, measure),
      kSmall, kSoft);
}

void draw_ramp(Canvas& canvas, const MapLayout& map, double y, const Measure& measure) {
  const Point corner = map.side.low;
  const double width = (map.side.high.x - corner.x) / kRampSteps;
  canvas.text({corner.x, y}, "Shade: lying there now, in " + ramp_unit(map.units), kSmallBold);
  for (int step = 0; step < kRampSteps; ++step) {
    const Box box = box_at({corner.x + step * width, y + 5}, width, 14);
    canvas.fill(plate(box), kRamp[step]);
    canvas.outline(plate(box), {kBlack, 0.5, {}});
    if (step == 0) continue;
    const std::string bound = ramp_bound(step, map.units);
    canvas.text({box.low.x - measure(bound, kSmall) / 2, y + 29}, bound, kSmall);
  }
  canvas.text({corner.x, y + 29}, "0", kSmall);
}

/// One line of the legend: a sample drawn in 26 x 11 points, and its meaning.
template <typename Sample>
void draw_meaning(Canvas& canvas, Point corner, const std::string& meaning, const Sample& sample) {
  sample(box_at({corner.x, corner.y - 9}, 26, 11));
  canvas.text({corner.x + 34, corner.y}, meaning, kSmall);
}

void draw_meanings(Canvas& canvas, const MapLayout& map, double y) {
  const auto next = [&] { return Point{map.side.low.x, y += 15.5}; };
  const auto zone = [&](bool floor, bool ledge, bool listed, int step) {
    PlanZone sample;
    sample.floor = floor;
    sample.ledge = ledge;
    sample.listed = listed;
    sample.load_g_per_m2 = std::array{0.0, 2.0, 5.0, 20.0}[step];
    return [&canvas, &map, sample](const Box& box) {
      PlanZone placed = sample;
      placed.corners = plate(box);
      draw_zone(canvas, placed, map.units);
    };
  };
  const auto machine = [&](bool used) {
    return [&canvas, used](const Box& box) {
      const Point at{box.low.x + 7, centre(box).y};
      draw_machine(canvas, {"", at, {at.x + 14, at.y}, used, 0, ""});
    };
  };
  canvas.text({map.side.low.x, y}, "Bold figures: fallen in this session", kSmallBold);
  draw_meaning(canvas, next(), "hatched: on the list, to be cleaned", zone(true, false, true, 2));
  draw_meaning(canvas, next(), "thick edge: bench or machine table", zone(false, false, false, 1));
  draw_meaning(canvas, next(), "dashed edge: ledge, shelf or duct up high",
               zone(false, true, false, 1));
  draw_meaning(canvas, next(), "machine used, and where it throws", machine(true));
  draw_meaning(canvas, next(), "machine not used", machine(false));
  draw_meaning(canvas, next(), "ring: nearly all it threw fell inside", [&](const Box& box) {
    canvas.clip(plate(box));
    canvas.circle({centre(box).x, box.high.y + 24}, 33, {kBlack, 1.1, {7, 4}});
    canvas.unclip();
  });
}

void draw_rows(Canvas& canvas, const MapLayout& map, const Measure& measure) {
  const double left = map.side.low.x;
  const double lies = map.side.high.x;
  const double fell = lies - 42;
  const auto right_of = [&](double edge, double y, const std::string& text, const Face& face) {
    canvas.text({edge - measure(text, face), y}, text, face);
  };
  double y = map.list_top_pt + kRow_pt;
  if (!map.rows.empty()) {
    const Face head{kRowFace.size_pt, true};
    canvas.text({left, y}, "Numbers in the plan", head);
    right_of(fell, y, "fell", head);
    right_of(lies, y, ramp_unit(map.units), head);
    canvas.line({{left, y + 3}, {lies, y + 3}}, {kHair, 0.7, {}});
    y += kRow_pt + 2;
  }
  for (const KeyRow& row : map.rows) {
    right_of(left + 13, y, std::to_string(row.key), {kRowFace.size_pt, true});
    const double room = fell - measure(row.fell, kRowFace) - 5 - (left + 18);
    canvas.text({left + 18, y}, shorten(row.name, kRowFace, room, measure), kRowFace);
    right_of(fell, y, row.fell, kRowFace);
    right_of(lies, y, row.lies, kRowFace);
    y += kRow_pt;
  }
  if (map.zones_left_out > 0) {
    canvas.text({left + 18, y},
                fmt::format("and {} more zones: {} together", map.zones_left_out,
                            say_mass(map.grams_left_out, map.units)),
                kRowFace);
  }
}

/// A round length of at most 180 points.
void draw_scale(Canvas& canvas, const MapLayout& map, const Measure& measure) {
  const bool metric = map.units == Units::kMetric;
  const double pt_per_unit = map.pt_per_m * (metric ? 1 : kMetresPerFoot);
  double length = std::pow(10.0, std::floor(std::log10(180 / pt_per_unit)));
  for (double more : {5.0, 2.0}) {
    if (more * length * pt_per_unit <= 180) {
      length *= more;
      break;
    }
  }
  const double y = map.scale_top_pt + 5;
  const double left = map.plan.low.x + 2;
  const double step = length * pt_per_unit / 4;
  for (int i = 0; i < 4; ++i) {
    const Polygon part = plate(box_at({left + i * step, y - 5}, step, 5));
    canvas.fill(part, i % 2 == 0 ? kBlack : kWhite);
    canvas.outline(part, {kBlack, 0.7, {}});
  }
  const std::string end = fmt::format("{:g} {}", length, metric ? "m" : "ft");
  canvas.text({left + 4 * step + 6, y}, end, kSmall);
  const double after = left + 4 * step + 6 + measure(end, kSmall) + 18;
  std::string note = "Estimates from what was run, not measured.";
  if (map.names_left_out > 0) {
    note += fmt::format(" Machines without room for their name: {}.", map.names_left_out);
  }
  canvas.text({after, y}, note, kSmall, kSoft);
}

}  // namespace

Result<void> draw_dust_map(const proto::DustMap& map, const std::string& path) {
  // The layout asks the font, which needs a canvas, whose size the units alone decide.
  const Paper paper = paper_for(map.answer().units());
  Result<Canvas> canvas =
      Canvas::open(path, paper.long_pt, paper.short_pt, "Dust map: " + map.answer().session());
  if (!canvas) return tl::unexpected(canvas.error());
  const Measure measure = canvas->measure();
  const MapLayout layout = lay_out_map(map, measure);
  draw_head(*canvas, layout, map.answer(), measure);
  draw_ramp(*canvas, layout, layout.side.low.y + 8, measure);
  draw_meanings(*canvas, layout, layout.side.low.y + 56);
  if (layout.pt_per_m > 0) {
    draw_plan(*canvas, layout, measure);
    draw_rows(*canvas, layout, measure);
    draw_scale(*canvas, layout, measure);
  } else {
    canvas->text({layout.plan.low.x, layout.plan.low.y + 12}, "There is no room to draw.", kSmall);
  }
  return canvas->finish();
}

}  // namespace chipfall
