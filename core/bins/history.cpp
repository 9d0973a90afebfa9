#include "core/bins/history.h"

#include <algorithm>
#include <cmath>
#include <compare>
#include <string_view>
#include <unordered_set>
#include <utility>

#include "core/bins/column.h"

namespace chipfall {
namespace {

/// A total order, also over NaN: fields that are not read may hold anything.
bool earlier(const BinEvent& a, const BinEvent& b) {
  if (a.day != b.day) return a.day < b.day;
  if (a.kind != b.kind) return a.kind < b.kind;
  if (a.id != b.id) return a.id < b.id;
  if (const auto order = std::strong_order(a.expected_share, b.expected_share); order != 0) {
    return order < 0;
  }
  if (const auto order = std::strong_order(a.spread, b.spread); order != 0) return order < 0;
  return a.sighting < b.sighting;
}

void take_in(const BinEvent& event, Belief& belief) {
  switch (event.kind) {
    case BinEvent::Kind::kPush:
      return push(belief, event.expected_share, event.spread);
    case BinEvent::Kind::kSighting:
      return see(belief, event.sighting);
    case BinEvent::Kind::kEmptied:
      return empty(belief);
  }
}

}  // namespace

BinEvent push_event(std::string id, double day, double expected_share, double spread) {
  return {std::move(id), day, BinEvent::Kind::kPush, expected_share, spread, Sighting::kRoom};
}

BinEvent sighting_event(std::string id, double day, Sighting sighting) {
  return {std::move(id), day, BinEvent::Kind::kSighting, 0, kPushSpread, sighting};
}

BinEvent emptied_event(std::string id, double day) {
  return {std::move(id), day, BinEvent::Kind::kEmptied, 0, kPushSpread, Sighting::kRoom};
}

std::vector<BinEvent> in_event_order(std::vector<BinEvent> events) {
  std::erase_if(events, [](const BinEvent& event) { return !std::isfinite(event.day); });
  std::ranges::sort(events, earlier);
  std::unordered_set<std::string_view> known;
  known.reserve(events.size());
  std::vector<BinEvent> once;
  once.reserve(events.size());
  for (BinEvent& event : events) {
    if (event.id.empty() || !known.contains(event.id)) {
      once.push_back(std::move(event));
      if (!once.back().id.empty()) known.insert(once.back().id);
    }
  }
  return once;
}

void Folding::take(const BinEvent& event) {
  if (std::isnan(drifted_to_)) drifted_to_ = event.day;
  if (event.day - drifted_to_ >= kDriftAtOnce_days) {
    drift(belief_, event.day - drifted_to_);
    drifted_to_ = event.day;
  }
  take_in(event, belief_);
}

Belief Folding::at(double day) const {
  Belief belief = belief_;
  if (!std::isnan(drifted_to_)) drift(belief, day - drifted_to_);
  return belief;
}

Belief fold(std::vector<BinEvent> events, const BinPrior& prior, double until_day) {
  events = in_event_order(std::move(events));
  std::erase_if(events, [&](const BinEvent& event) { return event.day > until_day; });
  Folding folding(prior);
  for (const BinEvent& event : events) folding.take(event);
  return folding.at(std::isfinite(until_day) || events.empty() ? until_day : events.back().day);
}

}  // namespace chipfall
