#pragma once

#include <vector>

#include "core/shop/session.h"

/// What the extraction takes, and into which bins.
namespace chipfall {

/// Speed in a branch below which chips settle out and hoods stop drawing: 20 m/s, about 4000 fpm,
/// within ACGIH's 3500 to 4500 fpm for wood dusts.
inline constexpr double kTransportSpeed_m_per_s = 20;

/// Inside area of a round duct.
double duct_area_m2(double diameter_m);

/// Air speed in every open branch of a collector when the open ones together have this area:
/// v = Q/A. Branches draw in proportion to their area; losses are left out [c.p.].
double branch_speed_m_per_s(double flow_m3_per_s, double open_area_m2);

/// Share of the usual capture at this speed: all of it from transport speed up, in proportion
/// below, where hood flow falls with the speed [c.p.].
double speed_factor(double speed_m_per_s);

/// Share of the usual capture with a bin this full: all of it up to 90 %, then falling to 0.3 where
/// the bin is full to the brim and beyond [c.p.].
double choke_factor(double fill_share);

/// The same with `caught` more shares of the volume in it, averaged over what is believed of the
/// bin: one that is full with a chance of one half chokes half as much as a full one, on average.
/// Exactly choke_factor where the fill is certain.
double expected_choke(const BinState& bin, double caught);

/// When a use ran and how well its branch drew.
struct Running {
  double from_minute = 0;
  double to_minute = 0;
  double slowest_m_per_s = 0;  ///< 0: no duct
  double factor = 1;           ///< time-weighted speed factor
};

/// Places every use on the session's clock. Uses without a stated start wait, in the order given,
/// for the first free pair of hands among the session's people.
std::vector<Running> run_uses(const Shop& shop, const Session& session);

/// A captured stream after the last bin of a chain.
struct Chain {
  std::vector<PerClass> kept_g;  ///< parallel to the collector's chain
  double passed_g = 0;           ///< through everything, into the room or outdoors
};
Chain follow_chain(const Shop& shop, const Collector& collector, const PerClass& captured_g);

}  // namespace chipfall
