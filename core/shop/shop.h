#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/shop/geometry.h"

/// One shop as the computation sees it: checked, defaults filled in, references resolved to
/// indices. Made by `build_shop` from a checked sheet and a library; never changed afterwards.
namespace chipfall {

/// The four classes of chip (design, "Words").
enum ChipClass { kShavings, kChips, kCoarse, kFine };
inline constexpr int kChipClasses = 4;
inline constexpr std::array<ChipClass, kChipClasses> kAllClasses{kShavings, kChips, kCoarse, kFine};
std::string_view name(ChipClass chip_class);

/// One figure for each class, indexed by ChipClass.
using PerClass = std::array<double, kChipClasses>;
double sum(const PerClass& values);
PerClass operator+(const PerClass& a, const PerClass& b);
PerClass operator*(double factor, const PerClass& a);

/// An index into one of the shop's lists; kNone where there is none.
using Index = int;
inline constexpr Index kNone = -1;

enum class ZoneKind { kFloor, kTop, kMachine, kLedge };
enum class Surface { kConcrete, kWood, kMat, kTop, kMetal, kRough };
inline constexpr int kSurfaces = 6;
enum class Clutter { kClear, kSome, kCrowded };
enum class ToolKind { kVac, kBroom, kBrush, kCloth };
inline constexpr int kToolKinds = 4;
enum class CollectorKind { kCollector, kExtractor, kVac };
enum class BinKind { kVacTub, kCyclonePail, kExtractorBag, kCollectorDrum, kCollectorBag, kTrash };
enum class Family { kSoftwood, kHardwood, kSheet, kMetal, kPlastic };
enum class Grip { kGood, kFair, kPoor };
enum class Units { kMetric, kUs };
enum class Phase { kSafe, kHigh, kMiddle, kFloor, kBins, kLast };
enum class DutyKind { kZone, kCommon, kReset, kBin, kFilter, kAir, kClose };
/// The rules that raise a standard duty; core/duty/rules.h says what each means.
enum class When {
  kMachineUsed,  ///< as one of the `resets` of a used machine's kind
  kAlways,
  kSpark,
  kOilyRags,
  kGlue,
  kScraps,
  kFilterTimer,
  kBinEmpty,
  kBinLook,
  kFilterClean,
  kCollectorOff,
  kCommonDust,
  kLockUp  ///< not the member's: the closing volunteer's
};

/// Where a lock-up duty is done: at every entry of one of the sheet's own lists, or at a station.
enum class PlaceKind {
  kGate,
  kCollector,
  kFilter,
  kDustBin,
  kTrashBin,
  kDoor,
  kWayOut,  ///< the door by which the last one leaves
  kEmergencyExit,
  kWindow,
  kCompressor,
  kHeater,
  kGluePot,
  kHotTool,
  kRagCan,
  kKeyBox,
  kContainer,
  kLightSwitch
};

/// Ways of cutting: volume rate of solid wood while the tool is in the wood.
struct Cut {
  enum class Kind { kKerf, kPlaning, kSanding, kDirect } kind = Kind::kDirect;
  double width_mm = 0;  ///< kerf of a saw, width of a planing cut
  double depth_mm = 0;  ///< of the cut; taken off, when sanding
  double feed_m_per_min = 0;
  double area_m2_per_min = 0;     ///< sanding
  double volume_cm3_per_min = 0;  ///< direct
};

/// Planar normal in the machine's frame; see library.proto.
struct ThrowKernel {
  double offset_m = 0;
  double along_m = 1;
  double across_m = 1;
  double up_to_m = 1e9;  ///< higher zones are out of reach
};

struct MachineKind {
  std::string id;
  std::string name;
  Cut cut;
  double cutting_share = 0;
  PerClass class_shares{};
  std::array<std::optional<double>, kChipClasses> capture;
  std::array<ThrowKernel, kChipClasses> thrown;
  double airborne_share = 0;
  double airborne_median_um = 10;
  double airborne_gsd = 2;
  bool sparks = false;
  bool metal = false;
  std::vector<std::string> resets;
  std::string caution;
};

struct Stock {
  std::string id;
  std::string name;
  double specific_gravity = 0.5;
  double moisture_percent = 12;
  Family family = Family::kHardwood;
  std::string health;
  bool mask_always = false;
  double finer_share = 0;  ///< of every coarser class, breaks into fine dust in this stock
};

struct CleaningMethod {
  ToolKind tool = ToolKind::kVac;
  Surface surface = Surface::kConcrete;
  double area_m2_per_min = 1;
  double pickup_share = 0.9;
};

struct StandardDuty {
  std::string id;
  std::string title;
  std::string why;
  When when = When::kAlways;
  double minutes = 1;
  double spread = 0.3;
  std::optional<ToolKind> tool;
  double weight = 0;
  std::string caution;
  Phase phase = Phase::kLast;
  bool safety = false;
  std::vector<PlaceKind> places{};  ///< of a lock-up duty
  std::string if_not{};             ///< of a safety lock-up duty
};

/// Everything that comes with the program rather than with a shop.
struct Library {
  std::vector<MachineKind> machine_kinds;
  std::vector<Stock> stocks;
  std::vector<CleaningMethod> methods;
  std::vector<StandardDuty> duties;

  const MachineKind* machine_kind(std::string_view id) const;
  const Stock* stock(std::string_view id) const;
  /// Null where this tool does not clean this surface.
  const CleaningMethod* method(ToolKind tool, Surface surface) const;
};

struct Zone {
  std::string id;
  std::string name;
  ZoneKind kind = ZoneKind::kFloor;
  Surface surface = Surface::kConcrete;
  Clutter clutter = Clutter::kSome;
  Polygon corners;
  double height_m = 0;
  double cover = 1;
  double clean_g_per_m2 = 5;
};

struct Machine {
  std::string id;
  std::string name;
  MachineKind kind;  ///< the library's, with this machine's own cut put in
  Point at;
  double heading_rad = 0;
  Index gate = kNone;
  Index collector = kNone;  ///< also set from the gate
  PerClass capture{};       ///< with extraction on and enough air
  Index zone = kNone;       ///< its own table
};

struct Gate {
  std::string id;
  std::string name;
  Index collector = kNone;
  double branch_m = 0.1;
  bool floor_inlet = false;
  std::optional<Point> at{};
};

struct Collector {
  std::string id;
  std::string name;
  CollectorKind kind = CollectorKind::kCollector;
  double flow_m3_per_s = 0;
  std::vector<Index> chain;  ///< bins in the order that the air meets them
  bool outdoors = false;
  double run_on_minutes = 10;
  double filter_clean_g = 500;
  std::optional<Point> at{};
};

/// For the revised NIOSH equation; lengths in cm as printed there.
struct Lift {
  double hands_from_ankles_cm = 30;
  double hands_start_cm = 20;
  double hands_end_cm = 75;
  double twist_deg = 0;
  Grip grip = Grip::kFair;
};

struct Bin {
  std::string id;
  std::string name;
  BinKind kind = BinKind::kVacTub;
  double volume_m3 = 0;
  Point at;
  Index then = kNone;
  PerClass keeps{1, 1, 1, 1};
  double empty_at = 0.75;
  double tare_kg = 0;
  std::optional<Lift> lift;
  Index bag = kNone;  ///< of Shop::supplies
};

/// What is used up and ordered again.
struct Supply {
  std::string id;
  std::string name;
  std::string unit;
  double low_at = 0;
};

struct AirFilter {
  std::string id;
  std::string name;
  double clean_air_m3_per_s = 0;
  std::vector<double> timer_steps_minutes;
  bool on_during_sessions = false;
  std::optional<Point> at{};  ///< where its timer is set
};

/// Something that the closing volunteer looks at, beside what has a list of its own.
struct Station {
  std::string id;
  std::string name;
  PlaceKind kind = PlaceKind::kDoor;
  Point at;
};

struct CleaningTool {
  std::string id;
  std::string name;
  ToolKind kind = ToolKind::kVac;
  Point hangs_at;
  Index collector = kNone;
};

struct Policy {
  double minimum_minutes = 10;
  double fine_factor = 3;
  Units units = Units::kMetric;
  double default_capture = 0.5;
  double clean_g_per_m2 = 5;
  int people_per_heavy_bag = 2;
};

struct Shop {
  std::string name;
  std::string time_zone;
  Polygon outline;
  double ceiling_m = 3;
  std::vector<Zone> zones;
  std::vector<Machine> machines;
  std::vector<Gate> gates;
  std::vector<Collector> collectors;
  std::vector<Bin> bins;
  std::vector<Supply> supplies;
  std::vector<AirFilter> filters;
  double exhaust_m3_per_s = 0;
  std::vector<CleaningTool> tools;
  std::vector<Station> stations;
  std::vector<StandardDuty> duties;  ///< standard ones, then the shop's own
  std::vector<Stock> stocks;         ///< the shop's own, then the library's
  std::vector<CleaningMethod> methods;
  Policy policy;
  Point start;  ///< where people gather to end a session

  double floor_m2() const;
  double air_m3() const;
  const Stock* stock(std::string_view id) const;
};

/// Position of the entry with this id, or kNone.
template <typename List>
Index index_of(const List& list, std::string_view id) {
  for (size_t i = 0; i < list.size(); ++i) {
    if (list[i].id == id) return static_cast<Index>(i);
  }
  return kNone;
}

}  // namespace chipfall
