#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/shop/shop.h"

/// One use of a shop and the state it was in, resolved against that shop.
namespace chipfall {

/// One machine run in one stock.
struct Use {
  Index machine = kNone;
  double minutes = 0;  ///< logged, whether or not the tool was in the wood
  Stock stock;         ///< with the moisture of this use put in
  bool extraction = true;
  std::optional<double> from_minute;  ///< absent: when a pair of hands is free
};

struct Session {
  std::string id;
  std::string name;
  int people = 1;
  double minutes = 0;                  ///< 0: until the last use ends
  std::optional<int> leave_at_minute;  ///< of the day, in the shop's time
  std::vector<Use> uses;
  std::vector<Index> gates_left_open;
  bool oily_rags = false;
  bool glue = false;
};

/// How likely it is that a bin is this full.
struct FillChance {
  double fill_share = 0;
  double chance = 1;
};

struct BinState {
  std::optional<double> fill_share;  ///< absent: nobody has looked
  /// What is believed around it, chances summing to 1; empty: the fill above is certain.
  std::vector<FillChance> fills;
  double filter_fine_g = 0;
};

/// A duty that was done and timed.
struct FinishedDuty {
  DutyKind kind = DutyKind::kZone;
  double estimated_minutes = 1;  ///< published, before anything was learned
  double actual_minutes = 1;
};

/// What earlier sessions left. Lists run parallel to the shop's.
struct ShopState {
  std::vector<BinState> bins;
  std::vector<PerClass> zones;  ///< grams, settled and not cleaned
  PerClass open_floor{};
  std::vector<bool> out_of_order;
  std::vector<FinishedDuty> finished;  ///< what the shop's own minutes are learned from
};

/// Nothing carried over, no bin seen.
ShopState clean_state(const Shop& shop);

}  // namespace chipfall
