#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "core/bins/history.h"
#include "core/dust/account.h"

/// From the shop's past to what happened to each bin.
///
/// What goes into a bin
///  - Extraction: what the session's dust account says each bin of a chain kept.
///  - Cleaning with a vac: of the grams that lay in the zone, the share that one pass picks up,
///  down
///    the vac's own chain. Metal grit goes into its tin, not into a vac.
///  - Cleaning with broom, brush or cloth: the same share into the trash bin nearest to the zone.
///  - Scraps: kScrapsPerSawn times the solid wood that saws turned to dust, into the trash bin
///    nearest to each saw.
/// Beside chutes and hoods, all of that is guesswork: it has the wide spreads below, and the rate
/// factor of each bin's belief makes up for what is wrong on average.
///
/// What is known of a bin: looks, emptyings, weak pull. Emptying one bin of a chain empties that
/// one only. Words that this version does not know become notes, not evidence.
namespace chipfall {

/// A day number with its fraction, of a moment in ms since 1970 in UTC: days since the midnight
/// that began 1 January 1970 in the shop's own time, so that day 0 is a Thursday. Must not fall.
using DayOf = std::function<double(std::int64_t at_ms)>;

/// What a session leaves for the bins to know.
struct PastSession {
  std::string id;  ///< of its entry
  std::int64_t end_ms = 0;
  std::vector<BinDust> bins;      ///< parallel to Shop::bins
  std::vector<PerClass> lying_g;  ///< parallel to Shop::zones, when it ended
  std::vector<bool> metal;        ///< likewise: grit lies there
  PerClass open_floor_g{};        ///< lying there when it ended
  bool open_floor_metal = false;  ///< grit lies there
  double solid_kg_per_m3 = 600;   ///< of what it cut
  std::vector<double> scraps_m3;  ///< expected, loose, parallel to Shop::bins
};

/// Loose scraps in litres for each litre of solid wood that saws turn to dust [c.p.]: a 3 mm cut
/// frees a strip or an end of some 20 mm every second time, and scraps lie half as dense as wood.
inline constexpr double kScrapsPerSawn = 6;
/// So much of a scrap bin is wood [c.p.].
inline constexpr double kScrapsSolidShare = 0.5;

PastSession past_session(const Shop& shop, const Session& session, const SessionDust& dust,
                         std::string id, std::int64_t end_ms);

/// A cleaning that was done.
struct PastCleaning {
  std::string id;
  std::int64_t at_ms = 0;
  Index zone = kNone;   ///< kNone: the open floor
  Index tool = kNone;   ///< of Shop::tools; kNone: the one that the list would have named
  std::string session;  ///< id of the session whose list it was on; empty: the last before it
};

/// What somebody did to a bin or saw of it.
struct PastBinFact {
  std::string id;
  std::int64_t at_ms = 0;
  std::string bin;  ///< for weak pull also a machine or collector: then the first bin of its chain
  bool emptied = false;
  bool bag_replaced = false;
  std::string seen;  ///< where not emptied: room, half, full, weak pull, or a newer word
};

/// Of one emptying, the duty "empty it" and a bin-emptied entry may both tell: within so many
/// minutes of the first, they are one [c.p.]. Nobody fills a bin that fast.
inline constexpr double kSameEmptying_minutes = 90;

/// How far what is swept or vacuumed, and what is thrown away, lies from what is expected [c.p.]:
/// cleaned before, left lying, carried home.
inline constexpr double kCleaningSpread = 0.6;
inline constexpr double kScrapsSpread = 1.0;
static_assert(kCleaningSpread == kKeptSpreads[1] && kScrapsSpread == kKeptSpreads[2]);

struct ShopPast {
  std::vector<PastSession> sessions;
  std::vector<PastCleaning> cleanings;
  std::vector<PastBinFact> facts;
};

/// One bin's past, in the order of time.
struct BinPast {
  std::vector<BinEvent> events;
  std::vector<double> bags_replaced;  ///< days
  double caught_g = 0;                ///< of all pushes, for the density of what is in it
  double caught_m3 = 0;
};

struct BinPasts {
  std::vector<BinPast> bins;       ///< parallel to Shop::bins
  std::vector<std::string> notes;  ///< what was told and could not be used, each once
};

/// The same for any order of the lists, and for entries that come twice.
BinPasts bin_pasts(const Shop& shop, const ShopPast& past, const DayOf& day_of);

}  // namespace chipfall
