#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "core/dust/account.h"
#include "core/duty/bin_past.h"

/// What earlier sessions left lying and cleaning did not take: the state that a session finds.
///
/// The past is gone through in the order in which it happened, whatever the order in which it was
/// told. Each session adds what fell and what was still settling; each cleaning leaves a share by
/// tool and surface; nothing else takes dust away. Pure: no clock, no memory of its own.
namespace chipfall {

/// What one session brought, in the lists of its shop; all that the future needs of its account.
struct SessionFall {
  std::vector<PerClass> zones;  ///< grams thrown or settled there
  PerClass open_floor{};
  std::vector<double> settling_g;  ///< by zone: fine dust that was still in the air at the end
  double open_settling_g = 0;
  /// What the bins will want to know: caught, grit by zone, scraps. Its `lying_g`, `id` and
  /// `end_ms` are filled in from the state that the session found.
  PastSession for_bins;
};

SessionFall fall_of(const Shop& shop, const Session& session, const SessionDust& dust);

/// Something that happened.
struct PastEvent {
  /// In this order when they happen at once: who cleans after a session does so when it is over.
  enum class Kind { kSession, kZoneSeen, kZoneCleaned, kCommonDust, kBinSeen, kFilterCleaned };

  std::string id;  ///< of the entry that told it; the same id twice is the same event
  std::int64_t at_ms = 0;
  Kind kind = Kind::kSession;
  Session session;      ///< of a session
  Index what = kNone;   ///< zone (kNone: the open floor), bin or collector
  double minutes = 0;   ///< common dust: that it took
  bool dirtier = true;  ///< zone seen: than expected; otherwise cleaner
  double fill = 0;      ///< bin seen, share of its volume; 0 when it was emptied
};

/// Of a floor, the rings that are cleaned hold this much of what lies there; of everything else,
/// cleaning goes over the whole. See clean_out_m.
inline constexpr double kFloorShareCleaned = kCleanOutShare;

/// "Dirtier" and "cleaner" than expected mean this factor and its inverse [c.p.].
inline constexpr double kSeenFactor = 1.5;

/// A zone's dust after it was cleaned once: passes down to its clean load with the shop's own tool
/// for that surface leave (1 - pick-up)^passes of it.
PerClass after_cleaning(const Shop& shop, Index zone, double area_m2, const PerClass& lying_g);

/// One zone over the years; the open floor comes last.
struct CarriedZone {
  Index zone = kNone;
  double area_m2 = 0;
  PerClass lying_g{};
  /// What a usual week of the last kRate_days adds for good: nothing where the zone is cleaned
  /// again and again before a layer worth watching can grow, else all that falls.
  PerClass weekly_g{};
  /// Learned from "dirtier" and "cleaner": what truly falls here for each gram expected.
  double rate_factor = 1;
  std::optional<std::int64_t> cleaned_ms;  ///< last; absent: never since the ledger began
};

struct Carried {
  std::vector<CarriedZone> zones;  ///< parallel to Shop::zones, then the open floor
  std::vector<double> bin_fill;    ///< as expected from sessions, sightings, emptyings
  std::vector<double> filter_fine_g;
  /// In the order of time, each with what lay where when it ended.
  std::vector<PastSession> sessions;
};

/// Works out one session's fall in the state that it found. Asked once for each session; a caller
/// that has the answer kept gives it from there.
using FallSource = std::function<SessionFall(const PastEvent& session, const ShopState& found)>;

/// `until_ms` leaves out what is later: a clock that is ahead does not clean the shop.
Carried carry_forward(const Shop& shop, const Overlay& overlay, std::vector<PastEvent> past,
                      std::int64_t until_ms, const FallSource& fall = {});

/// As the wind-down takes it: dust as carried, fills as given there, nothing out of order.
ShopState state_of(const Shop& shop, const Carried& carried);

/// Rates reach back no further: shops change.
inline constexpr int kRate_days = 182;

/// A zone that was cleaned so often within kRate_days is cleaned regularly.
inline constexpr int kRegularCleanings = 2;

}  // namespace chipfall
