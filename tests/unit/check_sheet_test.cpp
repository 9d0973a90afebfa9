#include <numbers>

#include <doctest/doctest.h>

#include "tests/unit/broken.h"
#include "tests/unit/small_shop.h"

namespace chipfall::test {
namespace {

Errors load_mistakes(const std::string& text) {
  static const Library library = small_library();
  return mistakes_of(load_shop({"small", text}, library));
}

constexpr Broken kTop[] = {
    {R"(name: "Small shop")", "", "# One", "name", "give the shop's name"},
    {R"("Europe/Oslo")", R"("Oslo")", "time_zone", "time_zone", R"("Oslo" is not a time zone)"},
    {R"("Europe/Oslo")", R"("Europe/Olso")", "time_zone", "time_zone",
     R"(did you mean "Europe/Oslo"?)"},
    {R"(time_zone: "Europe/Oslo")", "", "# One", "time_zone", R"("America/Chicago")"},
    {"y_m: 0.5 }\nzones", "y_m: 9 }\nzones", "sink_in", "sink_in", "(4, 9) is outside"},
    {"sink_in { x_m: 4 y_m: 0.5 }", "", "# One", "sink_in", "missing: give the place"},
    {R"(units: "metric")", R"(units: "us")", "units", "policy.units", R"(did you mean "US"?)"},
    {"fine_factor: 4", "fine_factor: 21", "fine_factor", "policy.fine_factor", "outside 1 to 20"},
    {"fine_factor: 4", "minimum_minutes: 241", "minimum_minutes", "policy.minimum_minutes",
     "241 min is outside 0 to 240"},
    {"fine_factor: 4", "default_capture: 1.5", "default_capture", "policy.default_capture",
     "1.5 is outside 0 to 1"},
    {"clean_g_per_m2: 6", "clean_g_per_m2: 0.01", "clean_g_per_m2: 0.01", "policy.clean_g_per_m2",
     "0.01 g/m2 is outside 0.1 to 500"},
    {"heavy_bag: 3", "heavy_bag: 0", "people_per_heavy_bag", "policy.people_per_heavy_bag",
     "1 to 10 people"},
    {R"(id: "log")", R"(id: "blade-down")", R"(id: "blade-down")", "duties[0].id",
     "is a standard duty already"},
    {R"(when: "always")", R"(when: "allways")", "when", "duties[0].when",
     R"(did you mean "always"?)"},
    {R"(phase: "last")", R"(phase: "end")", "phase", "duties[0].phase", R"("end" is not a phase)"},
    {"minutes: 0.6", "minutes: 0", "minutes: 0", "duties[0].minutes",
     "more than 0 and at most 240"},
    {"spread: 0.4", "spread: 2.1", "spread", "duties[0].spread", "outside 0 to 2"},
    {R"(title: "Sign the log")", R"(tool: "mop")", "tool: ", "duties[0].tool",
     "vac, broom, brush, cloth"},
    {R"(resets: "log")", R"(resets: "lock-door")", "resets", "machine_kinds[0].resets[0]",
     R"(did you mean "lock-doors"?)"},
    {"shavings: 0.8 coarse: 0.2", "shavings: 0.8 coarse: 0.3", "class_shares",
     "machine_kinds[0].class_shares", "sum to 1.1; they must sum to 1"},
    {"gravity: 0.5 moisture_percent: 60", "gravity: 50 moisture_percent: 60", "specific_gravity",
     "stocks[0].specific_gravity", "50 is outside 0.05 to 25"},
};

constexpr Broken kRoom[] = {
    {"ceiling_m: 3", "ceiling_m: 30", "ceiling_m", "room.ceiling_m", "30 m is outside 1.8 to 20 m"},
    {"ceiling_m: 3", "", "room {", "room.ceiling_m", "missing or 0; give 1.8 to 20 m"},
    {"8, 0, 8, 6, 0, 6]", "8, 0]", "corners_m: [0, 0, 8", "room.corners_m",
     "at least 3 are needed"},
    {"8, 0, 8, 6, 0, 6]", "8, 0, 8, 6, 0]", "corners_m: [0, 0, 8", "room.corners_m",
     "7 figures make no whole corners"},
    {"8, 0, 8, 6, 0, 6]", "8, 6, 8, 0, 0, 6]", "corners_m: [0, 0, 8", "room.corners_m",
     "the outline crosses or touches itself; give the corners in order"},
    {"8, 0, 8, 6, 0, 6]", "8, 6, 8, 0, 0, 3]", "corners_m: [0, 0, 8", "room.corners_m",
     "crosses or touches itself near (2.66667, 2)"},
    {"8, 0, 8, 6, 0, 6]", "8000, 0, 8000, 6000, 0, 6000]", "corners_m: [0, 0, 8", "room.corners_m",
     "are these millimetres?"},
    {"8, 0, 8, 6, 0, 6]", "8, 0, 8, nan, 0, 6]", "corners_m: [0, 0, 8", "room.corners_m",
     "nan is not a figure"},
    {"8, 0, 8, 6, 0, 6]", "1, 0, 1, 1, 0, 1]", "corners_m: [0, 0, 1", "room.corners_m",
     "a room of 1 m2 is not a shop"},
    {"8, 0, 8, 6, 0, 6]", "800, 0, 800, 600, 0, 600]", "corners_m: [0, 0, 8", "room.corners_m",
     "a room of 4.8e+05 m2 is not a shop"},
    {R"(kind: "floor" surface)", R"(kind: "flor" surface)", R"(kind: "flor")", "zones[0].kind",
     R"("flor" is not a kind of zone; one of floor, top, machine, ledge; did you mean "floor"?)"},
    {R"(surface: "metal")", R"(surface: "carpt")", R"(surface: "carpt")", "zones[2].surface",
     R"("carpt" is not a surface; one of concrete, wood, mat, top, metal, rough)"},
    {R"(surface: "metal")", "", R"(zones { id: "saw-table")", "zones[2].surface",
     "missing: give the surface, one of concrete"},
    {R"(clutter: "crowded")", R"(clutter: "full")", R"(clutter: "full")", "zones[3].clutter",
     "clear, some, crowded"},
    {"box_m: [1, 2, 2, 3]", "", R"(zones { id: "saw-table")", "zones[2]",
     "has no area; give corners_m or box_m"},
    {"box_m: [1, 2, 2, 3]", "box_m: [1, 2, 2, 3] corners_m: [1, 2]", R"(zones { id: "saw-table")",
     "zones[2]", "keep one of them"},
    {"box_m: [1, 2, 2, 3]", "box_m: [1, 2, 2]", "box_m: [1, 2", "zones[2].box_m",
     "3 figures; a box has four: left, bottom, right, top"},
    {"box_m: [1, 2, 2, 3]", "box_m: [2, 2, 1, 3]", "box_m: [2, 2", "zones[2].box_m",
     "left below right"},
    {"box_m: [1, 2, 2, 3]", "box_m: [7, 2, 9, 3]", "box_m: [7", "zones[2].box_m",
     "1.00 m2 of the zone lie outside"},
    {"box_m: [1, 2, 2, 3]", "box_m: [1, 2, 1.001, 2.001]", "box_m: [1, 2", "zones[2].box_m",
     "too small for a zone"},
    {"box_m: [0, 0, 4, 6]", "box_m: [0, 0, 5.5, 6] height_m: 0.85", R"(zones { id: "bench")",
     "zones[1]", R"("bench" overlaps "saw-floor" by 0.50 m2 at the same height (0.85 m); raise)"},
    {"7.5, 5, 5, 5]", "5, 5, 7.5, 5]", "corners_m: [5, 4", "zones[1].corners_m", "crosses"},
    {"cover: 0.8", "cover: -0.1", "cover", "zones[3].cover", "-0.1 is outside 0 to 1"},
    {"height_m: 0.85", "height_m: 3.2", "height_m", "zones[1].height_m", "outside 0 to 3 m"},
    {"clean_g_per_m2: 2", "clean_g_per_m2: 501", "clean_g_per_m2: 501", "zones[1].clean_g_per_m2",
     "501 g/m2 is outside"},
    {R"(zones { id: "shelf")", R"(zones { id: "bench")", R"(id: "bench" kind: "ledge")",
     "zones[3].id", R"("bench" stands twice in zones)"},
    {R"(zones { id: "shelf")", "zones {", R"(zones { kind: "ledge")", "zones[3].id",
     "missing: give an id"},
    {R"(zones { id: "shelf")", R"(zones { id: "top shelf")", R"(id: "top shelf")", "zones[3].id",
     "does not fit as an id; use letters, digits"},
};

constexpr Broken kMachines[] = {
    {R"(kind: "sander" at)", R"(kind: "sandr" at)", R"(kind: "sandr")", "machines[1].kind",
     R"("sandr" is not a kind of machine here; one of lathe, saw, sander, grinder; did you mean)"},
    {"x_m: 6 y_m: 1 }", "x_m: 9 y_m: 1 }", "at { x_m: 9", "machines[2].at",
     "(9, 1) is outside the room's outline"},
    {" at { x_m: 6 y_m: 1 }", "", R"(machines { id: "lathe-1")", "machines[2].at",
     "missing: give the place"},
    {"x_m: 6 y_m: 1 }", "x_m: inf y_m: 1 }", "x_m: inf", "machines[2].at.x_m",
     "inf is not a figure"},
    {"heading_deg: 270", "heading_deg: 2700", "heading_deg: 2700", "machines[0].heading_deg",
     "2700 degrees is outside"},
    {R"(gate: "g1" zone)", R"(gate: "g1" collector: "main" zone)", R"(machines { id: "saw-1")",
     "machines[0]", "has a gate and a collector of its own; keep one"},
    {R"(gate: "g1" zone)", R"(gate: "g2" zone)", R"(gate: "g2")", "machines[0].gate",
     R"("g2" is not a gate here; one of g1, sweep; did you mean "g1"?)"},
    {R"(gate: "g1" zone)", "zone", R"(gates { id: "g1")", "gates[0]",
     "gate g1 leads nowhere: no machine names it and it is not a floor_inlet"},
    {R"(gate: "g1" zone)", "zone", "capture", "machines[0].capture", "nothing captures here"},
    {R"(collector: "vac-1" cut)", R"(collector: "vac-2" cut)", R"(collector: "vac-2")",
     "machines[1].collector", R"("vac-2" is not a collector here)"},
    {R"(zone: "saw-table")", R"(zone: "saw-tabel")", R"(zone: "saw-tabel")", "machines[0].zone",
     R"(did you mean "saw-table"?)"},
    {"coarse: 0.75", "coarse: 75", "coarse: 75", "machines[0].capture.coarse",
     "75 is outside 0 to 1"},
    {"area_m2_per_min: 0.2 depth", "area_m2_per_min: -1 depth", "area_m2_per_min",
     "machines[1].cut.sanding.area_m2_per_min", "-1 m2/min cannot be"},
    {R"(kind: "broom" hangs)", R"(kind: "vac" hangs)", R"(tools { id: "broom")",
     "tools[1].collector", R"(missing: name a collector of kind "vac", one of vac-1)"},
    {R"(collector: "vac-1" })", R"(collector: "main" })", R"(collector: "main" })",
     "tools[0].collector", R"("main" is not a collector of kind "vac")"},
    {R"(kind: "broom" hangs)", R"(kind: "mop" hangs)", R"(kind: "mop")", "tools[1].kind",
     R"("mop" is not a kind of cleaning tool)"},
    {R"(kind: "broom" hangs)", R"(kind: "broom" collector: "vac-1" hangs)",
     R"(collector: "vac-1" hangs)", "tools[1].collector", "a broom fills no bin"},
    {"x_m: 4.1 y_m: 0.1", "x_m: 4.1 y_m: -0.1", "hangs_at { x_m: 4.1", "tools[1].hangs_at",
     "outside the room's outline"},
};

constexpr Broken kAir[] = {
    {R"(collector: "main" branch_mm: 125)", R"(collector: "mian" branch_mm: 125)",
     R"(collector: "mian")", "gates[0].collector", R"(did you mean "main"?)"},
    {"branch_mm: 125", "branch_mm: 5", "branch_mm: 5", "gates[0].branch_mm",
     "5 mm is outside 20 to 500 mm"},
    {" floor_inlet: true", "", R"(gates { id: "sweep")", "gates[1]", "gate sweep leads nowhere"},
    {R"(kind: "collector" flow)", R"(kind: "cyclone" flow)", R"(kind: "cyclone")",
     "collectors[0].kind", "collector, extractor, vac"},
    {"flow_m3_per_h: 1800", "flow_m3_per_h: -1", "flow_m3_per_h: -1", "collectors[0].flow_m3_per_h",
     "more than 0 and at most 50000 m3/h"},
    {"flow_m3_per_h: 200 ", "flow_m3_per_h: 2000 ", "flow_m3_per_h: 2000 ",
     "collectors[1].flow_m3_per_h", "at most 1000 m3/h"},
    {R"(first_bin: "drum")", R"(first_bin: "dram")", "first_bin: \"dram", "collectors[0].first_bin",
     R"("dram" is not a bin here; one of drum, bag, tub, trash; did you mean "drum"?)"},
    {R"( first_bin: "tub")", "", R"(collectors { id: "vac-1")", "collectors[1].first_bin",
     "missing: name a bin"},
    {R"(first_bin: "tub")", R"(first_bin: "trash")", R"(first_bin: "trash")",
     "collectors[1].first_bin", "is a trash bin; name the tub"},
    {"run_on_minutes: 1 ", "run_on_minutes: 900 ", "run_on_minutes", "collectors[1].run_on_minutes",
     "900 min is outside 0 to 240"},
    {R"(kind: "vac tub")", R"(kind: "vac tank")", R"(kind: "vac tank")", "bins[2].kind",
     R"(one of vac tub, cyclone pail, extractor bag, collector drum, collector bag, trash)"},
    {"volume_l: 30 ", "volume_l: 30 bag: \"bogs\" ", "bag: \"bogs\"", "bins[2].bag",
     "is not a supply"},
    {"volume_l: 30", "volume_l: 30000", "volume_l: 30000", "bins[2].volume_l",
     "30000 L cannot be; give more than 0 and at most 5000 L"},
    {R"(then: "bag")", R"(then: "bog")", "then", "bins[0].then", R"(did you mean "bag"?)"},
    {R"(then: "bag")", R"(then: "trash")", "then", "bins[0].then", "no air passes through a trash"},
    {"y_m: 1 } }\nbins", "y_m: 1 } then: \"drum\" }\nbins", R"(then: "bag")", "bins[0].then",
     "the bins go round in a loop: drum -> bag -> drum"},
    {R"(kind: "vac tub" volume_l: 30 at { x_m: 4.8 y_m: 4 } })",
     R"(kind: "vac tub" volume_l: 30 at { x_m: 4.8 y_m: 4 } then: "tub" })", R"(then: "tub")",
     "bins[2].then", "tub -> tub"},
    {R"(kind: "vac tub")", R"(kind: "cyclone pail")", R"(bins { id: "tub")", "bins[2].keeps",
     R"(last bin of "vac-1", which blows back into the room: it must keep all shavings)"},
    {"chips: 0.98", "chips: 98", "chips: 98", "bins[0].keeps.chips", "98 is outside 0 to 1"},
    {"empty_at: 0.8", "empty_at: 0.05", "empty_at", "bins[0].empty_at", "outside 0.1 to 1"},
    {"hands_from_ankles_cm: 40", "hands_from_ankles_cm: 400", "hands_from_ankles_cm",
     "bins[0].lift.hands_from_ankles_cm", "at most 100 cm"},
    {R"(grip: "poor")", R"(grip: "bad")", "grip", "bins[0].lift.grip", "good, fair, poor"},
    {"efficiency: 0.8", "efficiency: 80", "efficiency", "air.filters[0].efficiency", "at most 1"},
    {"[120, 240]", "[240, 120]", "timer_steps", "air.filters[0].timer_steps_minutes[1]",
     "120 min after 240 min; give the steps in increasing order"},
    {"[120, 240]", "[120, 2400]", "timer_steps", "air.filters[0].timer_steps_minutes[1]",
     "at most 1440 min"},
    {"timer_steps_minutes: [120, 240]", "timer_steps_minutes: 9 timer_steps_minutes: -1",
     "timer_steps_minutes: -1", "air.filters[0].timer_steps_minutes[1]", "-1 min cannot be"},
    {"exhaust_m3_per_h: 90", "exhaust_m3_per_h: -90", "exhaust", "air.exhaust_m3_per_h",
     "-90 m3/h is outside 0 to"},
};

constexpr Broken kPlaces[] = {
    {"tools { id: \"hose\"",
     R"(stations { id: "d" kind: "dor" at { x_m: 1 y_m: 1 } } tools { id: "hose")",
     R"(kind: "dor")", "stations[0].kind", R"("dor" is not a kind of place)"},
    {"tools { id: \"hose\"", R"(stations { id: "d" at { x_m: 1 y_m: 1 } } tools { id: "hose")",
     R"(stations { id)", "stations[0].kind", "missing: give the kind of place"},
    {"tools { id: \"hose\"",
     R"(stations { id: "d" kind: "gate" at { x_m: 1 y_m: 1 } } tools { id: "hose")",
     R"(kind: "gate")", "stations[0].kind", "a gate is no station: the sheet lists it in `gates`"},
    {"tools { id: \"hose\"",
     R"(stations { id: "d" kind: "filter" at { x_m: 1 y_m: 1 } } tools { id: "hose")",
     R"(kind: "filter")", "stations[0].kind", "the sheet lists it in `air.filters`"},
    {"tools { id: \"hose\"", R"(stations { id: "d" kind: "door" } tools { id: "hose")",
     R"(stations { id)", "stations[0].at", "missing: give the place on the plan"},
    {"tools { id: \"hose\"",
     R"(stations { id: "d" kind: "door" at { x_m: 1500 y_m: 1 } } tools { id: "hose")", "x_m: 1500",
     "stations[0].at.x_m", "are these millimetres?"},
    {"tools { id: \"hose\"", R"(stations { kind: "door" at { x_m: 1 y_m: 1 } } tools { id: "hose")",
     "stations {", "stations[0].id", "missing: give an id"},
    {"branch_mm: 125", "branch_mm: 125 at { x_m: 9 y_m: 1 }", "at { x_m: 9", "gates[0].at",
     "(9, 1) is outside the room's outline"},
    {"flow_m3_per_h: 1800", "flow_m3_per_h: 1800 at { x_m: nan y_m: 1 }", "x_m: nan",
     "collectors[0].at.x_m", "nan is not a figure"},
    {"efficiency: 0.8", "efficiency: 0.8 at { x_m: -1 y_m: 1 }", "at { x_m: -1",
     "air.filters[0].at", "(-1, 1) is outside the room's outline"},
    {R"(when: "always")", R"(when: "always" places: "door")", "places", "duties[0].places[0]",
     "only a duty of `when: \"lock-up\"` names places"},
    {R"(when: "always")", R"(when: "lock-up" places: "dorr")", "places", "duties[0].places[0]",
     R"(did you mean "door"?)"},
    {R"(when: "always")", R"(when: "always" if_not: "Shout.")", "if_not", "duties[0].if_not",
     "only a duty of `when: \"lock-up\"` is signed off"},
};

TEST_CASE("each mistake in a sheet's head and own entries is named where it stands") {
  check_broken(small_sheet(), kTop, load_mistakes);
}
TEST_CASE("each mistake in a sheet's room and zones is named where it stands") {
  check_broken(small_sheet(), kRoom, load_mistakes);
}
TEST_CASE("each mistake in a sheet's machines and tools is named where it stands") {
  check_broken(small_sheet(), kMachines, load_mistakes);
}
TEST_CASE(
    "each mistake in a sheet's gates, collectors, bins and filters is named where it stands") {
  check_broken(small_sheet(), kAir, load_mistakes);
}

TEST_CASE("each mistake in a sheet's stations and other places is named where it stands") {
  check_broken(small_sheet(), kPlaces, load_mistakes);
}

TEST_CASE("a sheet may say where gates, switches, timers and stations are") {
  CHECK(!small_shop().gates[0].at);
  CHECK(!small_shop().collectors[0].at);
  CHECK(!small_shop().filters[0].at);
  std::string text = edited(small_sheet(), "branch_mm: 125", "branch_mm: 125 at { x_m: 2 y_m: 1 }");
  text = edited(text, "flow_m3_per_h: 1800", "flow_m3_per_h: 1800 at { x_m: 9 y_m: 1 }");
  text = edited(text, "efficiency: 0.8", "efficiency: 0.8 at { x_m: 3 y_m: 1 }");
  text += "stations { id: \"out\" kind: \"way out\" at { x_m: 4 y_m: -1 } }\n";
  const Shop shop = loaded(load_shop({"small", text}, small_library()));
  CHECK(shop.gates[0].at == Point{2, 1});
  CHECK(shop.collectors[0].at == Point{9, 1});  // outdoors
  CHECK(shop.filters[0].at == Point{3, 1});
  REQUIRE(shop.stations.size() == 1);
  CHECK(shop.stations[0].name == "out");
  CHECK(shop.stations[0].kind == PlaceKind::kWayOut);
  CHECK(shop.stations[0].at == Point{4, -1});
}

TEST_CASE("all mistakes of a sheet are listed at once, in the order of the text") {
  std::string text = edited(small_sheet(), R"(surface: "metal")", R"(surface: "metl")");
  text = edited(text, "ceiling_m: 3", "ceiling_m: 30");
  text = edited(text, R"(gate: "g1" zone)", R"(gate: "g9" zone)");
  text = edited(text, "efficiency: 0.8", "efficency: 0.8");
  const Errors errors = load_mistakes(text);
  std::vector<std::string> paths;
  for (const Error& error : errors) paths.push_back(error.place.path);
  const std::vector<std::string> expected{"room.ceiling_m",
                                          "zones[2].surface",
                                          "machines[0].gate",
                                          "gates[0]",  // nobody names it any more
                                          "air.filters[0].efficiency",
                                          "air.filters[0].efficency"};
  CHECK(paths == expected);
}

TEST_CASE("a sheet with any mistake gives no shop") {
  const auto result =
      load_shop({"small", edited(small_sheet(), "cover: 0.8", "cover: 8")}, small_library());
  REQUIRE(!result);
  CHECK(result.error().size() == 1);
}

TEST_CASE("a mistake reads file:line:column: path: message") {
  const Errors errors =
      load_mistakes(edited(small_sheet(), R"(surface: "metal")", R"(surface: "carpt")"));
  REQUIRE(errors.size() == 1);
  CHECK(errors[0].text() ==
        "small:13:41: zones[2].surface: \"carpt\" is not a surface; one of concrete, wood, mat, "
        "top, metal, rough");
}

TEST_CASE("a list over its limit is refused without reading the rest") {
  std::string text = small_sheet();
  for (int i = 0; i < kMostZones; ++i) text += "zones {}\n";
  const Errors errors = load_mistakes(text);
  REQUIRE(errors.size() == 1);
  CHECK(errors[0].code == ErrorCode::kOutOfBounds);
  CHECK(errors[0].place.path == "zones[2000]");
}

TEST_CASE("more mistakes than anyone mends are cut, and the last line says so") {
  std::string text = small_sheet();
  for (int i = 0; i < 900; ++i) text += "gates {}\n";
  const Errors errors = load_mistakes(text);
  REQUIRE(errors.size() == kMostMistakes + 1);
  CHECK(errors.back().message == "more mistakes follow; mend these first");
}

TEST_CASE("a zone may touch the wall and its neighbour, and lie over a lower one") {
  const std::string text =
      edited(small_sheet(), "box_m: [1, 2, 2, 3]", "box_m: [4, 4, 5, 6] height_m: 0.85");
  CHECK(load_mistakes(text).empty());
}

TEST_CASE("an indoor pail may let chips pass when a tub follows, an outdoor one always") {
  const std::string pail = edited(small_sheet(), R"(kind: "vac tub")", R"(kind: "cyclone pail")");
  CHECK(!load_mistakes(pail).empty());
  CHECK(load_mistakes(edited(pail, "y_m: 4 } }", "y_m: 4 } then: \"bag\" }")).empty());
  CHECK(load_mistakes(edited(pail, "run_on_minutes: 1 ", "outdoors: true ")).empty());
}

TEST_CASE("what a sheet leaves out gets its default") {
  const Shop shop = small_shop();
  CHECK(shop.zones[0].height_m == 0);
  CHECK(shop.zones[2].height_m == doctest::Approx(0.9));
  CHECK(shop.zones[3].height_m == doctest::Approx(2.2));
  CHECK(shop.zones[0].cover == 1);
  CHECK(shop.zones[0].clean_g_per_m2 == 6);
  CHECK(shop.zones[1].clean_g_per_m2 == 2);
  CHECK(shop.zones[2].clutter == Clutter::kSome);
  CHECK(shop.zones[2].name == "saw-table");
  CHECK(shop.policy.minimum_minutes == 10);
  CHECK(shop.policy.people_per_heavy_bag == 3);
  CHECK(shop.collectors[0].run_on_minutes == 10);
  CHECK(shop.bins[1].empty_at == 0.75);
  CHECK(shop.bins[0].keeps == PerClass{0.995, 0.98, 0.95, 0.6});
  CHECK(shop.bins[1].keeps == PerClass{1, 1, 1, 0.97});
  CHECK(shop.bins[2].keeps == PerClass{1, 1, 1, 0.98});
  CHECK(!shop.bins[1].lift);
}

TEST_CASE("figures come out in SI and references as places in lists") {
  const Shop shop = small_shop();
  CHECK(shop.machines[0].heading_rad == doctest::Approx(1.5 * std::numbers::pi));
  CHECK(shop.gates[0].branch_m == doctest::Approx(0.125));
  CHECK(shop.collectors[0].flow_m3_per_s == doctest::Approx(0.5));
  CHECK(shop.collectors[0].chain == std::vector<Index>{0, 1});
  CHECK(shop.bins[0].volume_m3 == doctest::Approx(0.2));
  CHECK(shop.bins[0].then == 1);
  CHECK(shop.filters[0].clean_air_m3_per_s == doctest::Approx(0.2));
  CHECK(shop.machines[0].gate == 0);
  CHECK(shop.machines[0].collector == 0);
  CHECK(shop.machines[0].zone == 2);
  CHECK(shop.machines[1].collector == 1);
  CHECK(shop.tools[0].collector == 1);
  CHECK(shop.tools[1].collector == kNone);
}

TEST_CASE("a machine's capture is its own, else its kind's, else the policy's, else none") {
  const Shop shop = small_shop();
  CHECK(shop.machines[0].capture == PerClass{0.5, 0.6, 0.75, 0.4});
  CHECK(shop.machines[1].capture == PerClass{0.5, 0.5, 0.5, 0.5});
  CHECK(shop.machines[2].capture == PerClass{});
}

TEST_CASE("a machine's own cut stands for its kind's") {
  const Shop shop = small_shop();
  CHECK(shop.machines[1].kind.cut.area_m2_per_min == 0.2);
  CHECK(small_library().machine_kind("sander")->cut.area_m2_per_min == 0.1);
}

TEST_CASE("the shop's own kinds and stocks stand before the library's, its duties after") {
  const std::string text = edited(small_sheet(), R"(id: "wet-birch")", R"(id: "oak")");
  const Shop shop = loaded(load_shop({"small", text}, small_library()));
  CHECK(shop.stock("oak")->moisture_percent == 60);
  CHECK(shop.stocks.size() == 5);
  CHECK(shop.duties.front().id == "blade-down");
  CHECK(shop.duties.back().id == "log");
  CHECK(shop.machines[2].kind.id == "lathe");
}

TEST_CASE("a clockwise outline is turned round") {
  const std::string text = edited(small_sheet(), "8, 0, 8, 6, 0, 6]", "0, 6, 8, 6, 8, 0]");
  CHECK(loaded(load_shop({"small", text}, small_library())).floor_m2() == doctest::Approx(48));
}

TEST_CASE("no truncation and no wrong byte of a sheet crashes the reader") {
  check_robust(small_sheet(), load_mistakes);
}

}  // namespace
}  // namespace chipfall::test
