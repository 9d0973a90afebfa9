#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <limits>
#include <set>
#include <sstream>
#include <string>

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <unistd.h>

#include "preview/terminal/canvas.h"
#include "preview/terminal/dust_map.h"
#include "preview/terminal/map_layout.h"
#include "preview/terminal/print_sheet.h"
#include "preview/terminal/ramp.h"
#include "preview/terminal/sheet_layout.h"
#include "preview/terminal/sheet_words.h"

using namespace chipfall;

namespace {

namespace fs = std::filesystem;

/// A folder of its own, gone at the end.
struct Folder {
  fs::path path;
  Folder() {
    std::string name = (fs::temp_directory_path() / "chipfall-drawing-XXXXXX").string();
    REQUIRE(mkdtemp(name.data()) != nullptr);
    path = name;
  }
  ~Folder() {
    std::error_code ignored;
    fs::remove_all(path, ignored);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  std::string operator/(const std::string& name) const { return (path / name).string(); }
  int files() const {
    return static_cast<int>(std::distance(fs::directory_iterator(path), fs::directory_iterator()));
  }
};

std::string content(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::ostringstream all;
  all << file.rdbuf();
  return all.str();
}

/// Every character as wide as half its size: layouts need no font.
double typed(const std::string& text, const Face& face) {
  const auto characters = std::ranges::count_if(
      text, [](char byte) { return (static_cast<unsigned char>(byte) & 0xC0U) != 0x80; });
  return 0.5 * face.size_pt * static_cast<double>(characters);
}

void put_box(google::protobuf::RepeatedField<double>* corners, double left, double bottom,
             double right, double top) {
  for (double figure : {left, bottom, right, bottom, right, top, left, top}) corners->Add(figure);
}

void put_zone(proto::DustMap& map, const std::string& id, double height_m, double grams) {
  map.mutable_zones(map.zones_size() - 1)->set_id(id);
  map.mutable_zones(map.zones_size() - 1)->set_height_m(height_m);
  proto::ZoneDust& dust = *map.mutable_answer()->add_zones();
  dust.set_id(id);
  dust.set_name("Zone " + id);
  dust.set_kind(height_m > 2 ? "ledge" : height_m > 0 ? "top" : "floor");
  dust.set_fallen_g(grams);
  dust.set_load_g_per_m2(grams);
}

/// A room of `side` x `side` metre squares, each with a bench in it and every third with a machine.
proto::DustMap squares(int side, double metre) {
  proto::DustMap map;
  put_box(map.mutable_room_m(), 0, 0, side * metre, side * metre);
  for (int i = 0; i < side * side; ++i) {
    const double x = metre * (i % side);
    const double y = metre * (i / side);
    put_box(map.add_zones()->mutable_corners_m(), x, y, x + metre, y + metre);
    put_zone(map, fmt::format("floor-{}", i), 0, 1.1 * i);
  }
  for (int i = 0; i < side * side; ++i) {
    const double x = metre * (i % side + 0.3);
    const double y = metre * (i / side + 0.3);
    put_box(map.add_zones()->mutable_corners_m(), x, y, x + 0.4 * metre, y + 0.15 * metre);
    put_zone(map, fmt::format("bench-{}", i), 0.9, 0.3 * i);
    if (i % 3 != 0) continue;
    proto::MapMachine& machine = *map.add_machines();
    machine.set_name(fmt::format("Thickness planer {}", i));
    machine.set_x_m(x);
    machine.set_y_m(y);
    machine.set_heading_deg(40.0 * i);
    machine.set_used(i % 2 == 0);
    machine.set_clean_out_m(i % 2 == 0 ? 0.8 * metre : 0);
  }
  return map;
}

proto::WindDown list_of(int duties) {
  static const char* const kPhases[] = {"safe", "high", "middle", "floor", "bins", "last"};
  proto::WindDown list;
  list.set_shop("Otter Bend Community Woodshop");
  list.set_session("A table in one evening");
  list.set_people(4);
  list.set_minutes_median(55);
  list.set_minutes_p80(79);
  list.mutable_finish()->set_minutes_median(21);
  list.mutable_finish()->set_minutes_p80(31);
  list.mutable_finish()->set_tools_down_by("20:59");
  list.add_cautions("Vac before broom, broom before air.");
  for (int i = 0; i < duties; ++i) {
    proto::Duty& duty = *list.add_duties();
    duty.set_order(i + 1);
    duty.set_title(fmt::format("Floor round the machine {}", i + 1));
    duty.set_why("67 g fell here from the table saw; clean is 5 g/m²");
    duty.set_tool_name("Roaming vac");
    duty.set_phase(kPhases[6 * i / duties]);
    duty.set_minutes(2);
    duty.set_weight(1.0 / (i + 1));
    duty.set_safety(i % 10 == 9);
    duty.set_caution(fmt::format("Machine off first. Only for {}.", i));
    duty.add_steps("Close its gate");
  }
  return list;
}

bool says(const SheetLayout& sheet, const std::string& words) {
  return std::ranges::any_of(sheet.marks, [&](const PrintMark& mark) {
    return mark.text.find(words) != std::string::npos;
  });
}

/// Rounding of sums of line heights, in points.
constexpr double kHair_pt = 1e-6;

void check_apart(const std::vector<Box>& boxes) {
  int overlaps = 0;
  for (size_t i = 0; i < boxes.size(); ++i) {
    for (size_t j = i + 1; j < boxes.size(); ++j) {
      overlaps += !apart(grown(boxes[i], -kHair_pt), grown(boxes[j], -kHair_pt));
    }
  }
  CHECK(overlaps == 0);
}

void check_map(const proto::DustMap& message) {
  const MapLayout map = lay_out_map(message, typed);
  std::vector<Box> boxes;
  for (const MapLabel& label : map.labels) {
    boxes.push_back(label.box);
    CHECK(holds(map.plan, label.box));
    for (const PlanMachine& machine : map.machines) {
      CHECK_FALSE(
          contains(rectangle(label.box.low.x, label.box.low.y, label.box.high.x, label.box.high.y),
                   machine.at));
    }
  }
  check_apart(boxes);
}

void check_sheet(const SheetLayout& sheet) {
  const Box page{{0, 0}, {sheet.width_pt, sheet.height_pt}};
  std::vector<Box> boxes;
  for (const PrintMark& mark : sheet.marks) {
    CHECK(holds(page, mark.box));
    if (mark.kind != PrintKind::kRule && mark.kind != PrintKind::kFrame) boxes.push_back(mark.box);
  }
  check_apart(boxes);
}

}  // namespace

TEST_CASE("a drawing's ending chooses its format") {
  const Folder folder;
  const proto::DustMap map = squares(3, 2);
  const proto::WindDown list = list_of(5);
  struct Format {
    std::string ending, magic;
  };
  for (const Format& format :
       {Format{".svg", "<?xml"}, Format{".png", "\x89PNG\r\n"}, Format{".PDF", "%PDF-1."}}) {
    CAPTURE(format.ending);
    REQUIRE(draw_dust_map(map, folder / ("map" + format.ending)));
    REQUIRE(draw_sheet(list, folder / ("list" + format.ending)));
    CHECK(content(folder / ("map" + format.ending)).starts_with(format.magic));
    CHECK(content(folder / ("list" + format.ending)).starts_with(format.magic));
  }
  CHECK(folder.files() == 6);
}

TEST_CASE("a list of any length prints on one page") {
  const Folder folder;
  for (int duties : {0, 5, 400}) {
    REQUIRE(draw_sheet(list_of(duties), folder / "list.pdf"));
    const std::string pdf = content(folder / "list.pdf");
    int pages = 0;
    for (size_t at = pdf.find("/Type /Page"); at != std::string::npos;
         at = pdf.find("/Type /Page", at + 1)) {
      pages += pdf.compare(at, 12, "/Type /Pages") == 0 ? 0 : 1;
    }
    // Later versions of Cairo pack these objects; then the text is not to be found at all.
    const bool packed = pdf.find("/ObjStm") != std::string::npos;
    CHECK((pages == 1 || (packed && pages == 0)));
  }
}

TEST_CASE("labels of the map overlap neither each other nor a mark, and none is cut off") {
  check_map(squares(3, 4));
  check_map(squares(5, 2));
  check_map(squares(10, 1));  // 200 zones
}

TEST_CASE(
    "every zone with dust has its grams in it, a number in the list, or is counted as left out") {
  for (int side : {2, 5, 10}) {
    const MapLayout map = lay_out_map(squares(side, 2), typed);
    std::set<Index> said;
    for (const MapLabel& label : map.labels) {
      if (label.kind == LabelKind::kFell) said.insert(label.of);
    }
    // The room itself stands first, and nothing is known of its open floor.
    CHECK(said.size() + map.rows.size() + map.zones_left_out == 2U * side * side);
  }
}

TEST_CASE("numbers of the map's list begin with the heaviest zone") {
  const MapLayout map = lay_out_map(squares(10, 1), typed);
  REQUIRE(!map.rows.empty());
  double heavier = std::numeric_limits<double>::infinity();
  for (const KeyRow& row : map.rows) {
    const auto zone = std::ranges::find(map.zones, row.key, &PlanZone::key);
    REQUIRE(zone != map.zones.end());
    CHECK(zone->fallen_g <= heavier);
    heavier = zone->fallen_g;
  }
}

TEST_CASE("nothing on the printed list overlaps or leaves the page") {
  for (const char* units : {"metric", "US"}) {
    for (int duties : {0, 1, 8, 20, 40, 400}) {
      CAPTURE(duties);
      proto::WindDown list = list_of(duties);
      list.set_units(units);
      check_sheet(lay_out_sheet(list, typed));
    }
  }
}

TEST_CASE(
    "a short list is roomy, with its whys, and a longer one is set tighter before it loses "
    "anything") {
  const SheetLayout few = lay_out_sheet(list_of(5), typed);
  CHECK(few.fit.columns == 1);
  CHECK(says(few, "67 g fell here"));
  const SheetLayout many = lay_out_sheet(list_of(20), typed);
  CHECK(many.fit.columns == 2);
  CHECK(many.fit.body_pt >= kLeastBody_pt);
  CHECK(many.left_out == 0);
  CHECK(many.shortened == 0);
}

TEST_CASE("a list too long for the page says how many are left out, and keeps the safety duties") {
  const proto::WindDown list = list_of(120);
  const SheetLayout sheet = lay_out_sheet(list, typed);
  REQUIRE(sheet.left_out > 0);
  CHECK(says(sheet, fmt::format("and {} more: see the phone", sheet.left_out)));
  int safe = 0;
  for (const PrintMark& mark : sheet.marks) safe += mark.kind == PrintKind::kHeavyBox ? 1 : 0;
  CHECK(safe == 12);
}

TEST_CASE("lettered cautions lose no word") {
  proto::WindDown list;
  for (const char* caution :
       {"Off first. A stop must not start it. If it does, press again. Only A.",
        "Off first. A stop must not start it. If it does, press again.", "Off first.",
        "Only B, e.g. this. Mind it.", ""}) {
    list.add_duties()->set_caution(caution);
  }
  const LetteredCautions cautions = letter_cautions(list);
  CHECK(cautions.shared == std::vector<std::string>{
                               "Off first.", "A stop must not start it. If it does, press again."});
  CHECK(cautions.letters == std::vector<std::string>{"a, b", "a, b", "a", "", ""});
  CHECK(cautions.own ==
        std::vector<std::string>{"Only A.", "", "", "Only B, e.g. this. Mind it.", ""});
}

TEST_CASE("shades grow darker in even steps, and text reads on every one") {
  const auto lightness = [](Ink ink) { return 116 * std::cbrt(luminance(ink)) - 16; };
  const double even = (lightness(kRamp.front()) - lightness(kRamp.back())) / (kRampSteps - 1);
  for (int step = 0; step < kRampSteps; ++step) {
    CAPTURE(step);
    CHECK(contrast(text_on(kRamp[step]), kRamp[step]) >= 4.5);
    if (step == 0) continue;
    CHECK(luminance(kRamp[step]) < luminance(kRamp[step - 1]));
    CHECK(lightness(kRamp[step - 1]) - lightness(kRamp[step]) ==
          doctest::Approx(even).epsilon(0.05));
  }
  for (Ink ink : {kBlack, kSoft}) CHECK(contrast(ink, kWhite) >= 4.5);
}

TEST_CASE("a load's class follows the bounds that the legend prints") {
  CHECK(ramp_step(0, Units::kMetric) == 0);
  CHECK(ramp_step(1, Units::kMetric) == 1);
  CHECK(ramp_step(29.9, Units::kMetric) == 3);
  CHECK(ramp_step(1e9, Units::kMetric) == kRampSteps - 1);
  CHECK(ramp_step(-1, Units::kMetric) == 0);
  CHECK(ramp_step(std::numeric_limits<double>::quiet_NaN(), Units::kMetric) == 0);
  // 0.6 lb/1000 ft2 is 2.9295 g/m2 (NIST SP 811: 453.59237 g to the pound, 0.09290304 m2 to the
  // square foot).
  CHECK(ramp_step(2.929, Units::kUs) == 1);
  CHECK(ramp_step(2.930, Units::kUs) == 2);
  CHECK(ramp_bound(2, Units::kUs) == "0.6");
}

TEST_CASE("a picture that cannot be written says why, and leaves nothing behind") {
  const Folder folder;
  const proto::WindDown list = list_of(3);
  const auto wrong = [&](const std::string& path) {
    const Result<void> drawn = draw_sheet(list, path);
    REQUIRE(!drawn);
    REQUIRE(drawn.error().size() == 1);
    CHECK(drawn.error().front().place.file == path);
    return drawn.error().front();
  };
  CHECK(wrong(folder / "list.bmp").code == ErrorCode::kUnknown);
  CHECK(wrong(folder / "list.bmp").message.find(".svg, .png or .pdf") != std::string::npos);
  CHECK(wrong(folder / "list").message.find("no ending") != std::string::npos);
  CHECK(wrong(folder / "nowhere/list.pdf").message.find("folder") != std::string::npos);
  CHECK(wrong("/proc/list.pdf").code == ErrorCode::kUnreadable);
  fs::create_directory(folder.path / "taken.pdf");
  CHECK(wrong(folder / "taken.pdf").message.find("another name") != std::string::npos);
  CHECK(folder.files() == 1);
}

TEST_CASE("a new picture takes the old one's place in one step") {
  const Folder folder;
  std::ofstream(folder / "list.svg") << "old";
  REQUIRE(draw_sheet(list_of(3), folder / "list.svg"));
  CHECK(content(folder / "list.svg").starts_with("<?xml"));
  CHECK(folder.files() == 1);
}

TEST_CASE("messages without content and with impossible figures give pictures") {
  const Folder folder;
  CHECK(draw_dust_map({}, folder / "map.png"));
  CHECK(draw_sheet({}, folder / "list.png"));
  for (double odd : {std::numeric_limits<double>::quiet_NaN(),
                     std::numeric_limits<double>::infinity(), -1e300, 1e300}) {
    proto::DustMap map = squares(3, 2);
    map.mutable_zones(0)->set_corners_m(0, odd);
    map.mutable_machines(0)->set_x_m(odd);
    map.mutable_machines(1)->set_heading_deg(odd);
    map.mutable_machines(2)->set_clean_out_m(odd);
    map.mutable_answer()->mutable_zones(3)->set_fallen_g(odd);
    map.mutable_answer()->mutable_zones(4)->set_load_g_per_m2(odd);
    CHECK(draw_dust_map(map, folder / "map.svg"));
    map.mutable_room_m()->Set(2, odd);
    CHECK(draw_dust_map(map, folder / "map.svg"));
    proto::WindDown list = list_of(10);
    list.set_minutes_median(odd);
    list.mutable_duties(0)->set_minutes(odd);
    list.mutable_duties(1)->set_weight(odd);
    CHECK(draw_sheet(list, folder / "list.svg"));
  }
}

TEST_CASE("names of any length and alphabet are drawn inside the page") {
  const Folder folder;
  for (const std::string& name :
       {std::string("Tischlerei Nürnberg-Süd e. V. – Fräse"),
        std::string("木工房 かんな台の周りの床"), std::string("🪚🪵 saw 🧹"),
        std::string("wrong \xC3\x28 \xFF bytes\n\t"), std::string(5000, 'x'),
        std::string("a ") + std::string(300, 'w'), std::string()}) {
    proto::DustMap map = squares(3, 2);
    map.mutable_machines(0)->set_name(name);
    map.mutable_answer()->mutable_zones(9)->set_name(name);
    map.mutable_answer()->set_shop(name);
    map.mutable_answer()->set_session(name);
    check_map(map);
    CHECK(draw_dust_map(map, folder / "map.pdf"));
    proto::WindDown list = list_of(6);
    list.set_shop(name);
    list.set_session(name);
    list.mutable_duties(0)->set_title(name);
    list.mutable_duties(1)->set_caution(name);
    list.mutable_finish()->set_tools_down_by(name.substr(0, 8));
    check_sheet(lay_out_sheet(list, typed));
    CHECK(draw_sheet(list, folder / "list.pdf"));
  }
}

TEST_CASE("text is broken at spaces, and inside a word only where it must be") {
  const Face face{10};  // five points a character
  CHECK(wrap("one two three", face, 35, typed) == std::vector<std::string>{"one two", "three"});
  CHECK(wrap("abcdefgh ij", face, 25, typed) == std::vector<std::string>{"abcde", "fgh", "ij"});
  CHECK(wrap("über", face, 10, typed) == std::vector<std::string>{"üb", "er"});
  CHECK(wrap("", face, 10, typed) == std::vector<std::string>{""});
  CHECK(shorten("thickness planer", face, 50, typed) == "thickness…");
}

TEST_CASE("bytes that are not text are replaced before they are drawn") {
  CHECK(clean_text("a\nb") == "a b");
  CHECK(clean_text("\xC0\x80") == "\xEF\xBF\xBD\xEF\xBF\xBD");
  CHECK(clean_text("\xED\xA0\x80") == "\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD");
  CHECK(clean_text("é木🪚") == "é木🪚");
  CHECK(clean_text("\xF0\x9F") == "\xEF\xBF\xBD\xEF\xBF\xBD");
}
