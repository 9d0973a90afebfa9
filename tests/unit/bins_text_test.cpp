#include "preview/terminal/bins_text.h"

#include <filesystem>
#include <fstream>

#include <doctest/doctest.h>

#include "core/shop/load.h"
#include "preview/terminal/round_text.h"
#include "tests/tools/shop_month.h"
#include "tests/unit/small_shop.h"

using namespace chipfall;

namespace {

const std::string kChecklists = CHIPFALL_SOURCE_DIR "/checklists/";

Text text_of(const std::string& name) {
  std::ifstream in(kChecklists + name, std::ios::binary);
  return {name, {std::istreambuf_iterator<char>(in), {}}};
}

/// Otter Bend, its sessions in the order of their names, and a month of them.
struct Demo {
  Shop shop = test::loaded(load_shop(text_of("otter-bend.textproto"), builtin_library()));
  std::vector<Session> sessions;

  Demo() {
    std::vector<std::string> names;
    for (const auto& file : std::filesystem::directory_iterator(kChecklists + "sessions")) {
      names.push_back("sessions/" + file.path().filename().string());
    }
    std::ranges::sort(names);
    for (const std::string& name : names) {
      sessions.push_back(test::loaded(load_session(text_of(name), shop)));
    }
  }
  CoordinatorView view(unsigned seed) const {
    MonthAsk ask;
    ask.seed = seed;
    return view_of(shop, simulated_month(shop, sessions, ask));
  }
};

bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

int widest(const std::string& text) {
  int most = 0;
  int width = 0;
  for (char c : text) {
    width = c == '\n' ? 0 : width + ((c & 0xC0) != 0x80);
    most = std::max(most, width);
  }
  return most;
}

}  // namespace

TEST_CASE("a month at Otter Bend tells the coordinator of every bin, in every column width") {
  const Demo demo;
  for (unsigned seed : {1u, 2u, 5u}) {
    CAPTURE(seed);
    const CoordinatorView view = demo.view(seed);
    const proto::Coordinator answer = coordinator_answer(demo.shop, view);
    CHECK(answer.bins().bins_size() == static_cast<int>(demo.shop.bins.size()));
    const std::string text = coordinator_text(answer, 80);
    for (const Bin& bin : demo.shop.bins) CHECK(has(text, bin.name));
    CHECK(widest(text) <= 80);
    CHECK(has(text, "the bins on Monday 30 November"));
    CHECK(has(text, "Mask") == has(text, "Masks:"));
    for (const char* odd : {"nan", "inf", "-0 ", "1 stops", "  on today", "on yesterday"}) {
      CAPTURE(odd);
      CHECK(!has(text, odd));
    }
  }
}

TEST_CASE("the demo's bags are taken from the supplies that its sheet names") {
  const Demo demo;
  const Index bag = demo.shop.bins[index_of(demo.shop.bins, "planer-bag")].bag;
  REQUIRE(bag != kNone);
  CHECK(demo.shop.supplies[bag].id == "extractor-bags");
  CHECK(demo.shop.supplies[bag].low_at == 3);
  CHECK(demo.shop.bins[index_of(demo.shop.bins, "trash")].bag == kNone);
}

TEST_CASE("the same month gives the same text") {
  const Demo demo;
  CHECK(coordinator_text(coordinator_answer(demo.shop, demo.view(3))) ==
        coordinator_text(coordinator_answer(demo.shop, demo.view(3))));
}

TEST_CASE("over simulated months, bins that the month truly filled are mostly on the round") {
  const Demo demo;
  int full = 0;
  int found = 0;
  int empty = 0;
  int carried_empty = 0;
  for (unsigned seed = 1; seed <= 12; ++seed) {
    MonthAsk ask;
    ask.seed = seed;
    ask.emptied_when_full = 0.3;
    const ShopMonth month = simulated_month(demo.shop, demo.sessions, ask);
    const CoordinatorView view = view_of(demo.shop, month);
    for (const BinOutlook& bin : view.bins) {
      const bool stop = std::ranges::any_of(view.round.stops,
                                            [&](const RoundStop& s) { return s.bin == bin.bin; });
      if (!bin.known) continue;
      if (month.true_fill[bin.bin] >= 1) ++full, found += stop || bin.look_first;
      if (month.true_fill[bin.bin] < 0.3) ++empty, carried_empty += stop;
    }
  }
  MESSAGE(found, " of ", full, " full bins on the round; ", carried_empty, " of ", empty,
          " nearly empty ones");
  CHECK(full >= 5);
  CHECK(found >= 0.75 * full);
  CHECK(carried_empty <= 0.1 * empty);
}

TEST_CASE("a shop that asks for US units reads gallons, pounds and inches") {
  Demo demo;
  demo.shop.policy.units = Units::kUs;
  const std::string text = bins_text(bins_answer(demo.shop, demo.view(1)));
  CHECK(has(text, " gal"));
  CHECK(has(text, " lb"));
  CHECK(has(text, " in ("));
  CHECK(!has(text, " L "));
  CHECK(!has(text, " kg"));
}

TEST_CASE("the lifting equation is shown with all its multipliers") {
  proto::Bins bins;
  proto::BinOutlook& bin = *bins.add_bins();
  bin.set_known(true);
  bin.set_name("Drum");
  bin.set_volume_l(100);
  bin.set_full_kg(30);
  bin.set_people(2);
  proto::LiftAnswer& lift = *bin.mutable_lift();
  lift.set_load_constant_kg(23);
  lift.set_limit_kg(15);
  lift.set_index(2);
  for (proto::LiftEnd* end : {lift.mutable_start(), lift.mutable_end()}) {
    end->set_horizontal(0.71);
    end->set_product(0.5);
    end->set_hands_cm(40);
  }
  lift.mutable_end()->set_product(0.4);
  lift.mutable_end()->set_hands_cm(90);
  const std::string text = bins_text(bins, 300);
  CHECK(has(text, "30 kg: 2 people (lifting index 2.0)"));
  CHECK(has(text, "23 kg x 0.71 reach"));
  CHECK(has(text, "set down at 90 cm"));
}

TEST_CASE("the bar of a bin shows its fill and where it is due") {
  CHECK(fill_bar(0, 0.8) == "[.......:..]");
  CHECK(fill_bar(0.5, 0.8) == "[#####..:..]");
  CHECK(fill_bar(1.3, 0.8) == "[#######|##]");
}

TEST_CASE("an empty round says so, one with stops says what to bring") {
  proto::Round round;
  round.set_shop("Shop");
  round.set_people(1);
  CHECK(has(round_text(round), "No bin needs emptying now, nor probably today."));
  round.set_until("on Friday");
  CHECK(has(round_text(round), "nor probably before the next round on Friday."));
  proto::RoundStop& stop = *round.add_stops();
  stop.set_name("Drum");
  stop.set_minutes(4);
  stop.set_litres(80);
  stop.set_people(2);
  stop.set_bag("Bags");
  round.set_minutes(5);
  proto::BagsToCarry& bags = *round.add_bags();
  bags.set_name("Bags");
  bags.set_count(2);
  bags.set_left(1);
  const std::string text = round_text(round);
  CHECK(has(text, "1 stop, about 5 min for 1 person"));
  CHECK(has(text, "  1. Drum (4 min, about 80 L), 2 people together"));
  CHECK(has(text, "2 of \"Bags\": only 1 left, order now"));
}
