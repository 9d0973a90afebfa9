#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/proto/wind_down.pb.h"
#include "core/shop/shop.h"
#include "preview/terminal/placing.h"
#include "preview/terminal/text_flow.h"

/// Where everything of the dust map stands on its page; no ink. Page points, y down.
namespace chipfall {

/// A zone as drawn. The first one is the room, with the open floor's dust.
struct PlanZone {
  std::string name;
  Polygon corners;
  bool floor = true;
  bool ledge = false;
  bool known = false;   ///< the answer says what lies there
  bool listed = false;  ///< a duty asks for it to be cleaned
  double fallen_g = 0;
  double load_g_per_m2 = 0;
  int key = 0;  ///< number in the list at the side; 0: grams stand in the zone, or it is left out
};

struct PlanMachine {
  std::string name;
  Point at;
  Point tip;  ///< of its arrow
  bool used = false;
  double ring_pt = 0;
  std::string ring;  ///< its radius for people
};

enum class LabelKind { kFell, kKey, kUsed, kIdle, kRing };

/// Lines of text in a box of their own, centred; `pin` is the end of a line to what is meant.
struct MapLabel {
  LabelKind kind = LabelKind::kFell;
  Index of = 0;  ///< position in zones or machines
  std::vector<std::string> lines;
  Face face;
  Box box;
  std::optional<Point> pin;
  std::string note;  ///< a last line, in kNoteFace
};

struct KeyRow {
  int key = 0;
  std::string name;
  std::string fell;
  std::string lies;
};

struct MapLayout {
  Units units = Units::kMetric;
  double width_pt = 0;
  double height_pt = 0;
  Box plan;  ///< the drawing's frame, room and margin
  Box side;  ///< the column of legend and list
  double list_top_pt = 0;
  double scale_top_pt = 0;      ///< of the scale bar, under the room
  double pt_per_m = 0;          ///< 0: nothing to draw
  std::vector<PlanZone> zones;  ///< in drawing order
  std::vector<PlanMachine> machines;
  std::vector<MapLabel> labels;
  std::vector<KeyRow> rows;
  int zones_left_out = 0;  ///< too small for their grams, and lighter than those in the list
  double grams_left_out = 0;
  int names_left_out = 0;
};

inline constexpr double kMapMargin_pt = 34;
inline constexpr double kRow_pt = 10.4;
inline constexpr Face kRowFace{8};
inline constexpr Face kNoteFace{7.5};
inline constexpr double kMark_pt = 3.6;  ///< radius of a machine's mark

/// Labels overlap neither each other nor a machine's mark, and lie inside the plan's frame. Grams
/// stand in their zone clear of the benches over it; where they do not fit, a number stands for
/// them, heaviest first. Machines of the same session keep their names before idle ones.
///
/// Takes any message: figures that are not finite, shapes without area and zones far outside the
/// room are left out. A4, or US letter when the shop's units are US; landscape.
MapLayout lay_out_map(const proto::DustMap& map, const Measure& measure);

}  // namespace chipfall
