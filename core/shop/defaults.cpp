#include "core/shop/defaults.h"

#include "core/shop/mistakes.h"

namespace chipfall {
namespace {

/// All [c.p.].
PerClass usual_keeps(BinKind kind, bool has_next) {
  switch (kind) {
    case BinKind::kVacTub:
      return {1, 1, 1, 0.98};
    case BinKind::kCyclonePail:
      return {0.995, 0.99, 0.95, 0.6};
    case BinKind::kExtractorBag:
      return {1, 1, 1, 0.95};
    case BinKind::kCollectorDrum:
      // Below a cyclone when something follows, below its own filter when nothing does.
      return has_next ? PerClass{0.995, 0.99, 0.95, 0.6} : PerClass{1, 1, 1, 0.98};
    case BinKind::kCollectorBag:
      return {1, 1, 1, 0.97};
    case BinKind::kTrash:
      break;
  }
  return {1, 1, 1, 1};
}

}  // namespace

Polygon corners_of(const google::protobuf::RepeatedField<double>& figures) {
  Polygon corners;
  for (int i = 0; i + 1 < figures.size(); i += 2) corners.push_back({figures[i], figures[i + 1]});
  return tidy(std::move(corners));
}

Polygon corners_of(const proto::Zone& zone) {
  if (zone.box_m_size() != 4) return corners_of(zone.corners_m());
  return rectangle(zone.box_m(0), zone.box_m(1), zone.box_m(2), zone.box_m(3));
}

double height_m_of(const proto::Zone& zone, ZoneKind kind) {
  if (zone.has_height_m()) return zone.height_m();
  switch (kind) {
    case ZoneKind::kFloor:
      return 0;
    case ZoneKind::kTop:
    case ZoneKind::kMachine:
      return 0.9;
    case ZoneKind::kLedge:
      return 2.2;
  }
  return 0;
}

PerClass keeps_of(const proto::Bin& bin, BinKind kind) {
  PerClass keeps = usual_keeps(kind, !bin.then().empty());
  const auto given = per_class(bin.keeps());
  for (ChipClass c : kAllClasses) keeps[c] = given[c].value_or(keeps[c]);
  return keeps;
}

}  // namespace chipfall
