#include "core/shop/words.h"

namespace chipfall {

template <>
const Vocabulary<ZoneKind>& vocabulary() {
  using enum ZoneKind;
  static constexpr Word<ZoneKind> kWords[] = {
      {kFloor, "floor"}, {kTop, "top"}, {kMachine, "machine"}, {kLedge, "ledge"}};
  static constexpr Vocabulary<ZoneKind> kAll{"kind of zone", kWords};
  return kAll;
}

template <>
const Vocabulary<Surface>& vocabulary() {
  using enum Surface;
  static constexpr Word<Surface> kWords[] = {{kConcrete, "concrete"}, {kWood, "wood"},
                                             {kMat, "mat"},           {kTop, "top"},
                                             {kMetal, "metal"},       {kRough, "rough"}};
  static constexpr Vocabulary<Surface> kAll{"surface", kWords};
  return kAll;
}

template <>
const Vocabulary<Clutter>& vocabulary() {
  using enum Clutter;
  static constexpr Word<Clutter> kWords[] = {
      {kClear, "clear"}, {kSome, "some"}, {kCrowded, "crowded"}};
  static constexpr Vocabulary<Clutter> kAll{"degree of clutter", kWords};
  return kAll;
}

template <>
const Vocabulary<ToolKind>& vocabulary() {
  using enum ToolKind;
  static constexpr Word<ToolKind> kWords[] = {
      {kVac, "vac"}, {kBroom, "broom"}, {kBrush, "brush"}, {kCloth, "cloth"}};
  static constexpr Vocabulary<ToolKind> kAll{"kind of cleaning tool", kWords};
  return kAll;
}

template <>
const Vocabulary<CollectorKind>& vocabulary() {
  using enum CollectorKind;
  static constexpr Word<CollectorKind> kWords[] = {
      {kCollector, "collector"}, {kExtractor, "extractor"}, {kVac, "vac"}};
  static constexpr Vocabulary<CollectorKind> kAll{"kind of collector", kWords};
  return kAll;
}

template <>
const Vocabulary<BinKind>& vocabulary() {
  using enum BinKind;
  static constexpr Word<BinKind> kWords[] = {
      {kVacTub, "vac tub"},
      {kCyclonePail, "cyclone pail"},
      {kExtractorBag, "extractor bag"},
      {kCollectorDrum, "collector drum"},
      {kCollectorBag, "collector bag"},
      {kTrash, "trash"},
  };
  static constexpr Vocabulary<BinKind> kAll{"kind of bin", kWords};
  return kAll;
}

template <>
const Vocabulary<Family>& vocabulary() {
  using enum Family;
  static constexpr Word<Family> kWords[] = {{kSoftwood, "softwood"},
                                            {kHardwood, "hardwood"},
                                            {kSheet, "sheet"},
                                            {kMetal, "metal"},
                                            {kPlastic, "plastic"}};
  static constexpr Vocabulary<Family> kAll{"family of stock", kWords};
  return kAll;
}

template <>
const Vocabulary<Grip>& vocabulary() {
  using enum Grip;
  static constexpr Word<Grip> kWords[] = {{kGood, "good"}, {kFair, "fair"}, {kPoor, "poor"}};
  static constexpr Vocabulary<Grip> kAll{"grip", kWords};
  return kAll;
}

template <>
const Vocabulary<Units>& vocabulary() {
  using enum Units;
  static constexpr Word<Units> kWords[] = {{kMetric, "metric"}, {kUs, "US"}};
  static constexpr Vocabulary<Units> kAll{"system of units", kWords};
  return kAll;
}

template <>
const Vocabulary<Phase>& vocabulary() {
  using enum Phase;
  static constexpr Word<Phase> kWords[] = {{kSafe, "safe"},   {kHigh, "high"}, {kMiddle, "middle"},
                                           {kFloor, "floor"}, {kBins, "bins"}, {kLast, "last"}};
  static constexpr Vocabulary<Phase> kAll{"phase", kWords};
  return kAll;
}

template <>
const Vocabulary<When>& vocabulary() {
  using enum When;
  static constexpr Word<When> kWords[] = {
      {kMachineUsed, "machine used"},
      {kAlways, "always"},
      {kSpark, "spark"},
      {kOilyRags, "oily rags"},
      {kGlue, "glue"},
      {kScraps, "scraps"},
      {kFilterTimer, "filter timer"},
      {kBinEmpty, "bin empty"},
      {kBinLook, "bin look"},
      {kFilterClean, "filter clean"},
      {kCollectorOff, "collector off"},
      {kCommonDust, "common dust"},
      {kLockUp, "lock-up"},
  };
  static constexpr Vocabulary<When> kAll{"rule for when a duty is due", kWords};
  return kAll;
}

template <>
const Vocabulary<DutyKind>& vocabulary() {
  using enum DutyKind;
  static constexpr Word<DutyKind> kWords[] = {
      {kZone, "zone"},     {kCommon, "common"}, {kReset, "reset"}, {kBin, "bin"},
      {kFilter, "filter"}, {kAir, "air"},       {kClose, "close"},
  };
  static constexpr Vocabulary<DutyKind> kAll{"kind of duty", kWords};
  return kAll;
}

template <>
const Vocabulary<PlaceKind>& vocabulary() {
  using enum PlaceKind;
  static constexpr Word<PlaceKind> kWords[] = {
      {kGate, "gate"},
      {kCollector, "collector"},
      {kFilter, "filter"},
      {kDustBin, "dust bin"},
      {kTrashBin, "trash bin"},
      {kDoor, "door"},
      {kWayOut, "way out"},
      {kEmergencyExit, "emergency exit"},
      {kWindow, "window"},
      {kCompressor, "compressor"},
      {kHeater, "heater"},
      {kGluePot, "glue pot"},
      {kHotTool, "hot tool"},
      {kRagCan, "rag can"},
      {kKeyBox, "key box"},
      {kContainer, "container"},
      {kLightSwitch, "light switch"},
  };
  static constexpr Vocabulary<PlaceKind> kAll{"kind of place", kWords};
  return kAll;
}

}  // namespace chipfall
