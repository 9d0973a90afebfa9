#pragma once

#include "core/door/answer_coordinator.h"

/// A month of a shop's life, made up from recorded sessions by a seeded rhythm: what was run, what
/// was cleaned or passed on, who looked into which bin. For tests, and to read what the coordinator
/// would be told.
namespace chipfall {

struct MonthAsk {
  unsigned seed = 1;
  int first_day = 20759;  ///< days since 1970: Monday 2 November 2026
  int days = 28;
  /// Of the bins called full, so many are emptied by the one who saw it.
  double emptied_when_full = 0.6;
  /// How far true rate factors lie from 1, as standard deviation of their log.
  double log_rate_sd = 0.4;
};

struct ShopMonth {
  ShopPast past;
  std::vector<SupplyFact> supplies;
  std::vector<LayerNow> layers;
  std::vector<TimedDuty> timed;
  std::vector<ZoneEnding> endings;
  std::vector<double> true_fill;  ///< parallel to Shop::bins, at the end
  std::vector<double> true_rate;
  double now_day = 0;  ///< noon of the day after the last
};

ShopMonth simulated_month(const Shop& shop, const std::vector<Session>& sessions,
                          const MonthAsk& ask);

/// What the coordinator is told at its end, the next round planned in a week.
CoordinatorView view_of(const Shop& shop, const ShopMonth& month);

}  // namespace chipfall
