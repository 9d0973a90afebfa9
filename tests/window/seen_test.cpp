#include "preview/window/seen.h"

#include <doctest/doctest.h>

using namespace chipfall::window;

namespace {

constexpr Rect kScreen{0, 0, 390, 844};

Seen text(const char* words, Rect at) {
  return {SeenKind::kText, "", words, at, kScreen, kInk, kPaper};
}
Seen target(const char* id, Rect at) { return {SeenKind::kTarget, id, id, at, kScreen}; }

std::size_t faults(std::initializer_list<Seen> all) {
  SeenLayer layer;
  for (const Seen& seen : all) layer.add(seen);
  return faults_of(layer, kScreen).size();
}

}  // namespace

TEST_CASE("every pair of colours can be read: 4.5 to 1, and 7 to 1 where it is about danger") {
  for (const Pair& pair : kPairs) {
    CAPTURE(pair.use);
    CHECK(contrast_of(pair.ink, pair.ground) >= (pair.danger ? kDangerContrast : kTextContrast));
  }
  CHECK(contrast_of(0x000000, 0xffffff) == doctest::Approx(21));
  CHECK(contrast_of(kGrain, kCard) >= 3);
  CHECK(contrast_of(kGrain, kPaper) >= 3);
}

TEST_CASE("a screen without fault has none") {
  CHECK(faults({text("a", {10, 10, 60, 30}), target("b", {10, 40, 60, 90})}) == 0);
}

TEST_CASE("small targets, pale text, cut and covered text are found") {
  CHECK(faults({target("small", {10, 10, 60, 50})}) == 1);
  Seen pale = text("pale", {10, 10, 60, 30});
  pale.ink = 0xb0a090;
  CHECK(faults({pale}) == 1);
  Seen danger = text("danger", {10, 10, 60, 30});
  danger.ink = kGrain;
  CHECK(faults({danger}) == 1);
  CHECK(faults({text("wide", {300, 10, 420, 30})}) == 1);
  CHECK(faults({text("a", {10, 10, 60, 30}), text("b", {40, 15, 90, 35})}) == 1);
  CHECK(faults({target("a", {10, 10, 60, 60}), target("b", {40, 15, 90, 75})}) == 1);
  CHECK(faults({target("a", {10, 10, 60, 60}), text("b", {40, 15, 90, 35})}) == 1);
}

TEST_CASE("a label may stand in its own target, and what scrolls may be out of sight") {
  Seen label = text("a", {20, 20, 50, 40});
  label.id.assign(1, 'a');  // "a" makes this compiler warn of nothing
  CHECK(faults({target("a", {10, 10, 60, 60}), label}) == 0);
  Seen below = text("below", {10, 900, 60, 920});
  CHECK(faults({below}) == 1);
  below.scrolls = true;
  CHECK(faults({below}) == 0);
}
