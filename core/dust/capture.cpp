#include "core/dust/capture.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <set>

namespace chipfall {
namespace {

/// Machines' own gates stand open while they run; those left open always do.
double open_area_m2(const Shop& shop, const Session& session, const std::vector<Running>& running,
                    Index collector, double minute) {
  std::set<Index> open(session.gates_left_open.begin(), session.gates_left_open.end());
  for (size_t u = 0; u < running.size(); ++u) {
    const bool now = running[u].from_minute <= minute && minute < running[u].to_minute;
    const Index gate = shop.machines[session.uses[u].machine].gate;
    if (now && gate != kNone && session.uses[u].extraction) open.insert(gate);
  }
  double area = 0;
  for (Index gate : open) {
    if (shop.gates[gate].collector == collector) area += duct_area_m2(shop.gates[gate].branch_m);
  }
  return area;
}

void measure_air(const Shop& shop, const Session& session, std::vector<Running>& running) {
  std::vector<double> changes;
  for (const Running& run : running) {
    changes.push_back(run.from_minute);
    changes.push_back(run.to_minute);
  }
  std::ranges::sort(changes);
  for (size_t u = 0; u < running.size(); ++u) {
    Running& run = running[u];
    const Machine& machine = shop.machines[session.uses[u].machine];
    if (machine.gate == kNone || !session.uses[u].extraction || run.to_minute <= run.from_minute) {
      continue;
    }
    const double flow = shop.collectors[machine.collector].flow_m3_per_s;
    double weighted = 0;
    run.slowest_m_per_s = HUGE_VAL;
    for (size_t i = 0; i + 1 < changes.size(); ++i) {
      const double from = std::max(changes[i], run.from_minute);
      const double to = std::min(changes[i + 1], run.to_minute);
      if (to <= from) continue;
      const double area = open_area_m2(shop, session, running, machine.collector, (from + to) / 2);
      const double speed = branch_speed_m_per_s(flow, area);
      run.slowest_m_per_s = std::min(run.slowest_m_per_s, speed);
      weighted += (to - from) * speed_factor(speed);
    }
    run.factor = weighted / (run.to_minute - run.from_minute);
  }
}

}  // namespace

double duct_area_m2(double diameter_m) { return std::numbers::pi / 4 * diameter_m * diameter_m; }

double branch_speed_m_per_s(double flow_m3_per_s, double area_m2) {
  return area_m2 > 0 ? flow_m3_per_s / area_m2 : 0;
}

double speed_factor(double speed_m_per_s) {
  return std::min(1.0, speed_m_per_s / kTransportSpeed_m_per_s);
}

double choke_factor(double fill_share) {
  return 1 - 0.7 * std::clamp((fill_share - 0.9) / 0.1, 0.0, 1.0);
}

double expected_choke(const BinState& bin, double caught) {
  if (bin.fills.empty()) return choke_factor(bin.fill_share.value_or(0) + caught);
  double factor = 0;
  for (const FillChance& each : bin.fills) {
    factor += each.chance * choke_factor(each.fill_share + caught);
  }
  return factor;
}

std::vector<Running> run_uses(const Shop& shop, const Session& session) {
  std::vector<double> free_from(static_cast<size_t>(std::max(1, session.people)), 0.0);
  std::vector<Running> running;
  for (const Use& use : session.uses) {
    Running run;
    if (use.from_minute) {
      run.from_minute = *use.from_minute;
    } else {
      const auto hands = std::ranges::min_element(free_from);
      run.from_minute = *hands;
      *hands += use.minutes;
    }
    run.to_minute = run.from_minute + use.minutes;
    running.push_back(run);
  }
  measure_air(shop, session, running);
  return running;
}

Chain follow_chain(const Shop& shop, const Collector& collector, const PerClass& captured_g) {
  Chain chain;
  PerClass left = captured_g;
  for (Index bin : collector.chain) {
    PerClass kept{};
    for (ChipClass c : kAllClasses) {
      kept[c] = left[c] * shop.bins[bin].keeps[c];
      left[c] -= kept[c];
    }
    chain.kept_g.push_back(kept);
  }
  chain.passed_g = sum(left);
  return chain;
}

}  // namespace chipfall
