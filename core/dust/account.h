#pragma once

#include <vector>

#include "core/dust/air.h"
#include "core/dust/capture.h"
#include "core/dust/overlay.h"

/// The whole path of a session's dust: removal -> capture -> throw -> fall, and the air.
namespace chipfall {

struct UseDust {
  Running running;
  PerClass removed_g{};
  PerClass captured_g{};
  PerClass escaped_g{};       ///< thrown and airborne
  double capture_factor = 1;  ///< of the usual capture, after slow air and choked bins
  double clean_out_m = 0;     ///< holds 95 % of what the machine throws
};

struct ZoneDust {
  PerClass before_g{};         ///< carried over
  PerClass fallen_g{};         ///< thrown here or settled here during the session
  double fallen_solid_m3 = 0;  ///< the same as solid volume, for the layer's depth
  double settling_g = 0;       ///< still in the air, expected to land here later
  PerClass lying_g() const;
};

struct BinDust {
  PerClass caught_g{};
  double caught_m3 = 0;      ///< loose
  double caught_fine_g = 0;  ///< on the filter: fine dust that reached the last bin of a chain
};

/// Where every gram went.
struct Balance {
  double removed = 0;
  double in_bins = 0;
  double on_zones = 0;
  double filtered = 0;
  double vented = 0;
  double airborne = 0;
  double difference() const;
};

/// What one machine threw, by place: says whom a zone's dust is owed to, and how far it reaches.
struct MachineDust {
  Index machine = kNone;
  std::vector<double> zones_g;  ///< parallel to Shop::zones
  double open_floor_g = 0;
  double clean_out_m = 0;  ///< radius to clean out to; see clean_out_m()
  Region ring;             ///< the floor within that radius that the machine can see
};

struct SessionDust {
  std::vector<UseDust> uses;    ///< parallel to Session::uses
  std::vector<ZoneDust> zones;  ///< parallel to Shop::zones
  ZoneDust open_floor;
  std::vector<MachineDust> machines;  ///< used ones only
  std::vector<BinDust> bins;          ///< parallel to Shop::bins
  std::vector<Emission> emissions;
  AirAccount air;  ///< at the session's end
  double end_minute = 0;
  Balance balance;
};

/// Accounts for every gram of a session. Bins that fill up during it choke later uses.
/// Asserts that the balance closes to 1e-9 of the removal.
SessionDust dust_of(const Shop& shop, const Overlay& overlay, const ShopState& state,
                    const Session& session);

/// Share of what a machine throws that lies within its clean-out radius.
inline constexpr double kCleanOutShare = 0.95;

/// Radius to clean out to around a machine of this kind. Taken from what it throws with nothing
/// extracted, so that it is a property of the machine: better extraction may take the coarse
/// part first, and must not widen the ring by that.
double clean_out_m(const MachineKind& kind);

}  // namespace chipfall
