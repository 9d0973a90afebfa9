#include "tests/bench/many_shops.h"

#include <fstream>
#include <iterator>
#include <stdexcept>

#include <fmt/format.h>

namespace chipfall::bench {
namespace {

Text text_of(const std::string& name) {
  const std::string path = CHIPFALL_SOURCE_DIR "/checklists/" + name;
  std::ifstream in(path, std::ios::binary);
  if (!in) throw std::runtime_error("cannot read " + path);
  return {path, {std::istreambuf_iterator<char>(in), {}}};
}

template <typename T>
T loaded(Result<T> result) {
  if (!result) throw std::runtime_error(result.error().front().text());
  return *std::move(result);
}

void append(const Shop& from, double shift_m, Shop& into) {
  const std::string mark = fmt::format("@{}", into.machines.size());
  const Index zones = static_cast<Index>(into.zones.size());
  const Index bins = static_cast<Index>(into.bins.size());
  const Index gates = static_cast<Index>(into.gates.size());
  const Index collectors = static_cast<Index>(into.collectors.size());
  const auto moved = [&](Index index, Index by) { return index == kNone ? kNone : index + by; };
  for (Zone zone : from.zones) {
    zone.id += mark;
    for (Point& p : zone.corners) p.x += shift_m;
    into.zones.push_back(std::move(zone));
  }
  for (Bin bin : from.bins) {
    bin.id += mark;
    bin.at.x += shift_m;
    bin.then = moved(bin.then, bins);
    into.bins.push_back(std::move(bin));
  }
  for (Collector collector : from.collectors) {
    collector.id += mark;
    for (Index& bin : collector.chain) bin += bins;
    into.collectors.push_back(std::move(collector));
  }
  for (Gate gate : from.gates) {
    gate.id += mark;
    gate.collector += collectors;
    into.gates.push_back(std::move(gate));
  }
  for (Machine machine : from.machines) {
    machine.id += mark;
    machine.at.x += shift_m;
    machine.gate = moved(machine.gate, gates);
    machine.collector = moved(machine.collector, collectors);
    machine.zone = moved(machine.zone, zones);
    into.machines.push_back(std::move(machine));
  }
  for (CleaningTool tool : from.tools) {
    tool.id += mark;
    tool.hangs_at.x += shift_m;
    tool.collector = moved(tool.collector, collectors);
    into.tools.push_back(std::move(tool));
  }
}

}  // namespace

Case demo_evening() {
  Case evening;
  evening.shop = loaded(load_shop(text_of("otter-bend.textproto"), builtin_library()));
  evening.session = loaded(load_session(text_of("sessions/table-evening.textproto"), evening.shop));
  evening.state = loaded(load_state(text_of("otter-bend-state.textproto"), evening.shop));
  return evening;
}

Case many_shops(int copies) {
  const Case one = demo_evening();
  Case all = one;
  const Box box = bounds(one.shop.outline);
  const double width = box.high.x - box.low.x;
  constexpr double kCorridor_m = 2;
  // Along the corridor, up the east end, and back over every shop's own outline.
  Polygon outline{{0, -kCorridor_m}, {copies * width, -kCorridor_m}};
  for (int i = copies - 1; i >= 0; --i) {
    const Polygon& own = one.shop.outline;
    // The demo's outline starts at its south-west corner and runs counter-clockwise.
    for (size_t c = 1; c < own.size(); ++c) outline.push_back({own[c].x + i * width, own[c].y});
    outline.push_back({own[0].x + i * width, own[0].y});
    // A wall's thickness between neighbours, so that the outline stays simple.
    outline.back().x += i > 0 ? 0.1 : 0;
  }
  all.shop.outline = tidy(outline);
  for (int i = 1; i < copies; ++i) {
    append(one.shop, i * width, all.shop);
    for (Use use : one.session.uses) {
      use.machine += i * static_cast<Index>(one.shop.machines.size());
      all.session.uses.push_back(use);
    }
    all.state.bins.insert(all.state.bins.end(), one.state.bins.begin(), one.state.bins.end());
    all.state.zones.insert(all.state.zones.end(), one.state.zones.begin(), one.state.zones.end());
    all.state.out_of_order.insert(all.state.out_of_order.end(), one.state.out_of_order.begin(),
                                  one.state.out_of_order.end());
  }
  all.session.people = one.session.people * copies;
  return all;
}

}  // namespace chipfall::bench
