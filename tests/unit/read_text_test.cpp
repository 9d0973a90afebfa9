#include <doctest/doctest.h>

#include "core/proto/session.pb.h"
#include "core/proto/shop.pb.h"
#include "core/shop/read_text.h"
#include "core/shop/suggest.h"
#include "core/shop/words.h"

namespace chipfall::test {
namespace {

/// The mistakes of a text, read as a sheet, one in a line.
std::string said_of(const std::string& content) {
  proto::ShopSheet sheet;
  const Text text{"t", content};
  std::string all;
  for (const Error& error : read_text(text, sheet).errors) {
    all += all.empty() ? "" : "\n";
    all += error.text();
  }
  return all;
}

/// line:column of a field path in a text that reads well.
std::string place_in(const std::string& content, std::string_view path) {
  proto::ShopSheet sheet;
  const Text text{"t", content};
  const Reading reading = read_text(text, sheet);
  REQUIRE(reading.complete);
  const Place place = reading.place(path);
  CHECK(place.path == path);
  return std::to_string(place.line) + ":" + std::to_string(place.column);
}

TEST_CASE("unknown fields are all reported, with the field that may have been meant") {
  CHECK(said_of("nmae: \"x\"\nzones { id: \"a\" }\nzones {\n  surfce: \"mat\"\n  at { surface: 1 "
                "}\n}\n") ==
        "t:1:1: nmae: ShopSheet has no field \"nmae\"; did you mean \"name\"?\n"
        "t:4:3: zones[1].surfce: Zone has no field \"surfce\"; did you mean \"surface\"?\n"
        "t:5:3: zones[1].at: Zone has no field \"at\"; one of id, name, kind, surface, clutter, "
        "corners_m, box_m, height_m, cover, clean_g_per_m2");
}

TEST_CASE("a field by its number or in brackets is unknown as well") {
  CHECK(said_of("1: \"x\"").find("ShopSheet has no field \"1\"") != std::string::npos);
  CHECK(said_of("[a.b]: \"x\"").find("ShopSheet has no field \"a.b\"") != std::string::npos);
}

TEST_CASE("reading stops at the first mistake of form, after the unknown fields before it") {
  CHECK(said_of("nmae: \"x\"\nname \"y\"\nnmae: 3\n") ==
        "t:1:1: nmae: ShopSheet has no field \"nmae\"; did you mean \"name\"?\n"
        "t:2:6: \":\" belongs here, not \"\"y\"\"");
}

TEST_CASE("mistakes of form are said in plain words, where they are") {
  CHECK(said_of("name: 12") == "t:1:7: a text in \"quotes\" belongs here, not \"12\"");
  CHECK(said_of("name: \"a\" name: \"b\"") == "t:1:11: \"name\" is given twice; keep one");
  CHECK(said_of("zones {\n  id: \"a\"\n") ==
        "t:3:1: the name of a field or a closing } belongs here, but the text ends");
  CHECK(said_of("zones { cover: x }") == "t:1:16: a number belongs here, not \"x\"");
  CHECK(said_of("zones { cover: 0x10 }") ==
        "t:1:16: a plain decimal number belongs here, not \"0x10\"");
  CHECK(said_of("zones { cover: 1m }") == "t:1:17: a space is missing after the number");
  CHECK(said_of("name: \"a") == "t:1:9: the text in quotes is never closed");
  CHECK(said_of("name: \"a\nb\"") ==
        "t:1:9: the text in quotes must end on the line where it began");
  CHECK(said_of("gates { floor_inlet: maybe }") ==
        "t:1:22: \"floor_inlet\" is true or false, not \"maybe\"");
  CHECK(said_of("machines { cut { kerf {} direct {} } }") ==
        "t:1:26: \"direct\" cannot stand beside \"kerf\"; keep one");
  CHECK(said_of("policy { people_per_heavy_bag: 99999999999 }") ==
        "t:1:32: the number is too large");
  CHECK(said_of("name: “x”") == "t:1:7: this character can only stand inside straight \"quotes\"");
  CHECK(said_of("}") == "t:1:1: the name of a field or a closing } belongs here, not \"}\"");
}

TEST_CASE("what is no text is refused where it stops being one") {
  CHECK(said_of("") == "t:1:1: the text is empty");
  CHECK(said_of(" \n\t\r\n") == "t:1:1: the text is empty");
  CHECK(said_of("name: \"a\xff\"") ==
        "t:1:9: a byte here is not text; save the file as plain text in UTF-8");
  CHECK(said_of(std::string("a\nb\0c", 5)) ==
        "t:2:2: a byte here is not text; save the file as plain text in UTF-8");
  CHECK(said_of("name: \"\xed\xa0\x80\"").starts_with("t:1:8: a byte here"));  // a lone surrogate
}

TEST_CASE("escapes cannot bring in what the file may not hold") {
  CHECK(said_of("zones { id: \"a\" }\nzones { name: \"\\000\" }") ==
        "t:2:9: zones[1].name: an escape in this text stands for no letter; write the letter "
        "itself");
  CHECK(said_of("name: \"\\377\"").starts_with("t:1:1: name: an escape"));
  CHECK(said_of("name: \"\\303\\270\"").empty());
}

TEST_CASE("a text over the limit is refused unread") {
  const std::string said = said_of(std::string(kMostSheetBytes + 1, '#'));
  CHECK(said == "t: 4194305 bytes are too many; at most 4194304 are read");
}

TEST_CASE("braces nested without end are refused, known fields or not") {
  std::string deep;
  for (int i = 0; i < 100'000; ++i) deep += "a { ";
  CHECK(said_of(deep).find("nested too deep") != std::string::npos);
  std::string lists = "a: ";
  for (int i = 0; i < 100'000; ++i) lists += "[";
  CHECK(said_of(lists).find("nested too deep") != std::string::npos);
}

TEST_CASE("a path is found where its field's name stands") {
  const std::string text = "zones { id: \"a\" }\n  zones {\n    box_m: [1, 2,\n 3, 4] cover: 1 }\n";
  CHECK(place_in(text, "zones[0]") == "1:1");
  CHECK(place_in(text, "zones[0].id") == "1:9");
  CHECK(place_in(text, "zones[1]") == "2:3");
  CHECK(place_in(text, "zones[1].cover") == "4:8");
  CHECK(place_in(text, "zones[1].box_m[3]") == "3:5");
}

TEST_CASE("a field that is missing is found in the message around it") {
  const std::string text = "\nroom {\n  ceiling_m: 3\n}\n";
  CHECK(place_in(text, "room.corners_m") == "2:1");
  CHECK(place_in(text, "zones[3].id") == "1:1");
  CHECK(place_in(text, "name") == "1:1");
}

TEST_CASE("repeated lines of one list are told apart") {
  const std::string text = "air { filters {\n timer_steps_minutes: 1\n timer_steps_minutes: 2 } }";
  CHECK(place_in(text, "air.filters[0].timer_steps_minutes[0]") == "2:2");
  CHECK(place_in(text, "air.filters[0].timer_steps_minutes[1]") == "3:2");
}

TEST_CASE("columns count characters, whatever their bytes and however wide a tab is shown") {
  CHECK(place_in("\tname: \"x\"", "name") == "1:2");
  CHECK(place_in("zones { name: \"Høvel\" kind: \"floor\" }", "zones[0].kind") == "1:23");
  CHECK(said_of("zones {\tname: \"øø\" knd: \"x\" }").starts_with("t:1:20: zones[0].knd"));
}

TEST_CASE("carriage returns and a byte order mark do no harm") {
  CHECK(place_in("name: \"x\"\r\nroom {}\r\n", "room") == "2:1");
  CHECK(place_in("\xef\xbb\xbfname: \"x\"\nroom {}", "room") == "2:1");
}

TEST_CASE("a slip of the pen is recognised, another word is not") {
  const std::vector<std::string> surfaces{"concrete", "wood", "mat", "top", "metal", "rough"};
  CHECK(closest("metl", surfaces) == "metal");
  CHECK(closest("wodo", surfaces) == "wood");
  CHECK(closest("Concrete", surfaces) == "concrete");
  CHECK(closest("tpo", surfaces) == "top");
  CHECK(closest("linoleum", surfaces).empty());
  CHECK(closest("", surfaces).empty());
  CHECK(closest(std::string(10'000, 'm'), surfaces).empty());
}

TEST_CASE("the distance of two words is exact up to its bound and one over beyond") {
  CHECK(edit_distance("kitten", "sitting", 9) == 3);
  CHECK(edit_distance("kitten", "sitting", 3) == 3);
  CHECK(edit_distance("kitten", "sitting", 2) == 3);
  CHECK(edit_distance("kitten", "sitting", 1) == 2);
  CHECK(edit_distance("", "abc", 5) == 3);
  CHECK(edit_distance("abc", "", 2) == 3);
  CHECK(edit_distance("", "", 0) == 0);
  CHECK(edit_distance("abcd", "badc", 5) == 2);
}

TEST_CASE("every word reads back as itself") {
  const auto reads_back = []<typename E>(E) {
    for (const Word<E>& entry : vocabulary<E>().words) {
      CHECK(parse<E>(entry.text) == entry.value);
      CHECK(word(entry.value) == entry.text);
    }
    CHECK(!parse<E>(""));
  };
  reads_back(ZoneKind{});
  reads_back(Surface{});
  reads_back(Clutter{});
  reads_back(ToolKind{});
  reads_back(CollectorKind{});
  reads_back(BinKind{});
  reads_back(Family{});
  reads_back(Grip{});
  reads_back(Units{});
  reads_back(Phase{});
  reads_back(When{});
  CHECK(vocabulary<When>().words.size() == 13);
}

}  // namespace
}  // namespace chipfall::test
