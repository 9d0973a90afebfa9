#include <doctest/doctest.h>

#include <cmath>

#include "preview/window/dust_plan.h"
#include "preview/window/picture.h"
#include "preview/window/script.h"
#include "tests/window/desk_under_test.h"

using namespace chipfall;
using namespace chipfall::window;
using namespace chipfall::window::test;

namespace {

double area_of(const std::vector<Point>& triangles) {
  double area = 0;
  for (std::size_t i = 0; i + 2 < triangles.size(); i += 3) {
    area += cross(triangles[i + 1] - triangles[i], triangles[i + 2] - triangles[i]) / 2;
  }
  return area;
}

}  // namespace

TEST_CASE("triangles cover a room with corners turned inwards, and nothing twice") {
  const Polygon room{{0, 0}, {15, 0}, {15, 7}, {10, 7}, {10, 11}, {0, 11}};
  CHECK(area_of(triangles_of(room)) == doctest::Approx(signed_area_m2(room)));
  Polygon star;
  for (int i = 0; i < 14; ++i) {
    const double angle = i * 3.14159265358979 / 7;
    const double radius = i % 2 == 0 ? 3 : 1;
    star.push_back({radius * std::cos(angle), radius * std::sin(angle)});
  }
  CHECK(area_of(triangles_of(star)) == doctest::Approx(signed_area_m2(star)));
  CHECK(triangles_of({}).empty());
  CHECK(triangles_of({{0, 0}, {1, 0}, {2, 0}}).empty());
}

TEST_CASE("lines are never wider than their room, also of one endless word") {
  DeskUnderTest desk({"member"});
  Type type = sure(Type::find());
  type.prepare({1, 2}, 1);
  const std::string text =
      "Floor round the thickness planer: Vac Donaudampfschifffahrtsgesellschaftskapit\xC3\xA4n";
  for (const float size : {1.0F, 2.0F}) {
    for (const float width : {60.0F, 200.0F, 390.0F}) {
      std::string joined;
      for (const std::string& line : type.lines(text, Face::kBody, size, width)) {
        CHECK(type.width(line, Face::kBody, size) <= width);
        joined += line;
      }
      std::string letters = text;
      std::erase(letters, ' ');
      std::erase(joined, ' ');
      CHECK(joined == letters);
    }
  }
  CHECK(type.lines("", Face::kBody, 1, 100).empty());
}

TEST_CASE("the keyboard reaches every target and taps it") {
  DeskUnderTest desk({"member"});
  Hands& hands = desk.desk().hands;
  for (int i = 0; i < 40 && hands.focus != "A member's phone|home/bin"; ++i) {
    hands.next = true;
    desk.stage().frame();
  }
  CHECK(hands.focus == "A member's phone|home/bin");
  hands.enter = true;
  desk.stage().frame();
  desk.settle_all();
  CHECK(desk.says("Which bin?"));
}

TEST_CASE("a finger that slips scrolls and taps nothing") {
  DeskUnderTest desk({"member"});
  desk.tap("home/member");
  Hands& hands = desk.desk().hands;
  const Rect at = desk.phone().seen.target("machines/band-saw")->at;
  hands.x = (at.left + at.right) / 2;
  hands.y = (at.top + at.bottom) / 2;
  hands.down = true;
  desk.stage().frame();
  hands.y -= 120;
  desk.stage().frame();
  hands.down = false;
  desk.stage().frame();
  CHECK(desk.phone().screen == Screen::kMachines);
  CHECK(desk.phone().scrolls[Screen::kMachines].offset > 100);
}

TEST_CASE("a script's mistakes name their line, and what is not on the screen fails it") {
  const auto wrong = read_script("x.script", "# remark\n\ntap a\njump b\n");
  REQUIRE_FALSE(wrong.has_value());
  CHECK(wrong.error().front().place.line == 4);
  DeskUnderTest desk({"member"});
  const auto script = sure(read_script("x.script", "see What are you\nsee a blue moon\n"));
  const Result<void> played = play("x.script", script, desk.desk(), desk.stage(), {});
  REQUIRE_FALSE(played.has_value());
  CHECK(played.error().front().place.line == 2);
}

TEST_CASE("pictures differ by the share of pixels that are far apart") {
  Picture a{4, 2, std::vector<unsigned char>(32, 100)};
  Picture b = a;
  CHECK(difference_of(a, b, 8).share == 0);
  b.rgba[4] = 108;
  CHECK(difference_of(a, b, 8).share == 0);
  b.rgba[4] = 120;
  CHECK(difference_of(a, b, 8).share == doctest::Approx(1.0 / 8));
  b.width = 2;
  CHECK_FALSE(difference_of(a, b, 8).same_size);
}
