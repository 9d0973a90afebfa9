#include <fstream>
#include <sstream>

#include <doctest/doctest.h>

#include "tests/unit/broken.h"
#include "tests/unit/small_shop.h"

namespace chipfall::test {
namespace {

Errors load_mistakes(const std::string& text) {
  return mistakes_of(load_library({{"small-library", text}}));
}

constexpr Broken kBroken[] = {
    {R"(id: "sander")", R"(id: "saw")", "id: \"saw\"\n  name: \"Sander", "machine_kinds[1].id",
     R"("saw" stands twice in machine_kinds)"},
    {R"(id: "grinder")", R"(id: "grinder!")", R"(id: "grinder!")", "machine_kinds[2].id",
     "does not fit as an id"},
    {"cut { direct { volume_cm3_per_min: 1 } }", "", "machine_kinds {\n  id: \"grinder\"",
     "machine_kinds[2].cut", "say how it cuts, one of kerf, planing, sanding, direct"},
    {"cut { direct { volume_cm3_per_min: 1 } }", "cut {}", "cut {}", "machine_kinds[2].cut",
     "say how it cuts"},
    {"kerf_mm: 3 ", "kerf_mm: -3 ", "kerf_mm", "machine_kinds[0].cut.kerf.kerf_mm",
     "-3 mm cannot be; give more than 0 and at most 100 mm"},
    {"depth_mm: 20 ", "", "kerf { ", "machine_kinds[0].cut.kerf.depth_mm", "missing or 0"},
    {"feed_m_per_min: 4", "feed_m_per_min: 4000", "feed",
     "machine_kinds[0].cut.kerf.feed_m_per_min", "at most 100 m/min"},
    {"depth_mm: 0.05", "depth_mm: 50", "depth_mm: 50", "machine_kinds[1].cut.sanding.depth_mm",
     "at most 10 mm"},
    {"volume_cm3_per_min: 1", "volume_cm3_per_min: 1e9", "volume_cm3",
     "machine_kinds[2].cut.direct.volume_cm3_per_min", "1000000000 cm3/min cannot be"},
    {"cutting_share: 0.5", "cutting_share: 50", "cutting_share: 50",
     "machine_kinds[1].cutting_share", "more than 0 and at most 1"},
    {"cutting_share: 0.5", "", "machine_kinds {\n  id: \"sander\"",
     "machine_kinds[1].cutting_share", "missing or 0"},
    {"chips: 0.2 coarse: 0.7", "chips: 0.2 coarse: 0.6", "class_shares { chips",
     "machine_kinds[0].class_shares", "sum to 0.9"},
    {"chips: 0.2 coarse: 0.7", "chips: -0.2 coarse: 1.1", "chips: -0.2",
     "machine_kinds[0].class_shares.chips", "-0.2 is outside 0 to 1"},
    {"fine: 0.4", "fine: nan", "fine: nan", "machine_kinds[0].capture.fine", "nan is not a figure"},
    {"fine { along_m: 0.9 across_m: 0.9 }", "", "thrown {\n    coarse { along_m: 0.4",
     "machine_kinds[1].thrown.fine", "this kind makes fine dust, so say how they fall"},
    {"across_m: 1.1", "across_m: 0", "across_m: 0 ", "machine_kinds[0].thrown.fine.across_m",
     "missing or 0; give more than 0 and at most 20 m"},
    {"offset_m: 0.6", "offset_m: 60", "offset_m: 60", "machine_kinds[0].thrown.chips.offset_m",
     "60 m is outside -20 to 20 m"},
    {"airborne_share: 0.5", "airborne_share: 1.5", "airborne_share: 1.5",
     "machine_kinds[1].airborne_share", "1.5 is outside 0 to 1"},
    {"airborne_median_um: 9", "airborne_median_um: 900", "airborne_median_um: 900",
     "machine_kinds[1].airborne_median_um", "900 um is outside 0.1 to 100 um"},
    {"airborne_median_um: 9\n  airborne_gsd: 2", "airborne_median_um: 9\n  airborne_gsd: 0.5",
     "airborne_gsd: 0.5", "machine_kinds[1].airborne_gsd", "0.5 is outside 1 to 5"},
    {R"(resets: "blade-down")", R"(resets: "blade-donw")", "resets", "machine_kinds[0].resets[0]",
     R"(did you mean "blade-down"?)"},
    {"gravity: 0.4", "gravity: 400", "specific_gravity: 400", "stocks[1].specific_gravity",
     "400 is outside 0.05 to 25"},
    {R"(moisture_percent: 12 family: "softwood")", R"(moisture_percent: 201 family: "softwood")",
     "moisture_percent: 201", "stocks[1].moisture_percent", "201 % is outside 0 to 200 %"},
    {R"(family: "softwood")", R"(family: "wood")", R"(family: "wood")", "stocks[1].family",
     "softwood, hardwood, sheet, metal, plastic"},
    {R"(tool: "broom")", R"(tool: "mop")", R"(tool: "mop")", "cleaning_methods[2].tool",
     R"("mop" is not a kind of cleaning tool)"},
    {R"(surface: "top")", R"(surface: "concrete")",
     R"(cleaning_methods { tool: "vac" surface: "concrete" area_m2_per_min: 2)",
     "cleaning_methods[1]", R"("vac" on "concrete" stands twice)"},
    {"area_m2_per_min: 8", "area_m2_per_min: 800", "area_m2_per_min: 800",
     "cleaning_methods[2].area_m2_per_min", "at most 200 m2/min"},
    {"pickup_share: 0.8", "pickup_share: 0.5", "pickup_share: 0.5",
     "cleaning_methods[2].pickup_share", "0.5 is outside 0.65 to 0.999"},
    {R"(title: "Lock the doors" )", "", R"(duties { id: "lock-doors")", "duties[1].title",
     "say what is to be done"},
    {R"(when: "lock-up")", R"(when: "lockup")", "when: \"lockup", "duties[1].when",
     R"(did you mean "lock-up"?)"},
};

TEST_CASE("each mistake in a library is named where it stands") {
  check_broken(small_library_text(), kBroken, load_mistakes);
}

TEST_CASE("a library may come in several texts, and a mistake names its own") {
  const std::string whole = small_library_text();
  const size_t cut = whole.find("stocks {");
  const Text kinds{"kinds", whole.substr(0, cut)};
  const Text rest{"rest", whole.substr(cut)};
  CHECK(load_library({kinds, rest}).has_value());
  CHECK(load_library({rest, kinds}).has_value());

  const Text twice{"twice", "\n  stocks { id: \"oak\" specific_gravity: 99 family: \"hardwood\" }"};
  const auto result = load_library({kinds, rest, twice});
  REQUIRE(!result);
  REQUIRE(result.error().size() == 2);
  CHECK(result.error()[0].text() ==
        "twice:2:12: stocks[0].id: \"oak\" stands twice in stocks; give each its own id");
  CHECK(result.error()[1].place.path == "stocks[0].specific_gravity");
}

TEST_CASE("mistakes of several library texts come text by text") {
  const auto result = load_library({{"one", "stocks { id: \"a\" family: \"x\" }"},
                                    {"two", "stocks { id: \"b\" famly: \"sheet\" }"}});
  REQUIRE(!result);
  std::string files;
  for (const Error& error : result.error()) files += error.place.file + " ";
  CHECK(files == "one one two two two ");
}

TEST_CASE("resets are checked against the duties of all texts, and only when there are any") {
  const std::string whole = small_library_text();
  const Text kinds{"kinds", whole.substr(0, whole.find("stocks {"))};
  CHECK(load_library({kinds}).has_value());
  const Text duty{"duty",
                  "duties { id: \"x\" title: \"X\" when: \"always\" minutes: 1 phase: \"last\" }"};
  const auto result = load_library({kinds, duty});
  REQUIRE(!result);
  CHECK(result.error()[0].place.path == "machine_kinds[0].resets[0]");
  CHECK(result.error()[0].place.file == "kinds");
}

/// One file of checklists/, whole.
Text checklist(const std::string& name) {
  std::ifstream file(CHIPFALL_SOURCE_DIR "/checklists/" + name);
  std::ostringstream content;
  content << file.rdbuf();
  return {name, content.str()};
}

TEST_CASE("the program's own library has no mistakes, and the program carries all of it") {
  const Library library =
      loaded(load_library({checklist("machines.textproto"), checklist("stocks.textproto"),
                           checklist("methods.textproto"), checklist("duties.textproto")}));
  CHECK(!library.machine_kinds.empty());
  CHECK(builtin_library().machine_kinds.size() == library.machine_kinds.size());
  CHECK(builtin_library().stocks.size() == library.stocks.size());
  CHECK(builtin_library().methods.size() == library.methods.size());
  CHECK(builtin_library().duties.size() == library.duties.size());
}

TEST_CASE("a library's figures reach the struct") {
  const Library library = small_library();
  const MachineKind& saw = *library.machine_kind("saw");
  CHECK(saw.cut.kind == Cut::Kind::kKerf);
  CHECK(saw.cut.width_mm == 3);
  CHECK(saw.class_shares == PerClass{0, 0.2, 0.7, 0.1});
  CHECK(!saw.capture[kCoarse]);
  CHECK(saw.capture[kFine] == 0.4);
  CHECK(saw.thrown[kChips].up_to_m == 1.5);
  CHECK(saw.thrown[kFine].up_to_m > 1000);
  CHECK(library.machine_kind("grinder")->metal);
  CHECK(library.stock("acrylic")->family == Family::kPlastic);
  CHECK(library.method(ToolKind::kBroom, Surface::kConcrete)->area_m2_per_min == 8);
  CHECK(library.method(ToolKind::kBroom, Surface::kMat) == nullptr);
  CHECK(library.duties[1].when == When::kLockUp);
}

TEST_CASE("no truncation and no wrong byte of a library crashes the reader") {
  check_robust(small_library_text(), load_mistakes);
}

}  // namespace
}  // namespace chipfall::test
