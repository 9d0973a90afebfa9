#include "preview/terminal/lock_up_text.h"

#include <algorithm>
#include <sstream>

#include <doctest/doctest.h>

#include "core/door/answer_lock_up.h"
#include "tests/unit/lock_up_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

proto::LockUp answer_for(const Shop& shop, const std::vector<PendingDuty>& pending, int people = 1,
                         std::optional<double> within = {}) {
  ClosingOptions options;
  options.people = people;
  options.begin_minute = 21 * 60 + 30;
  options.within_minutes = within;
  ShopState state = clean_state(shop);
  state.out_of_order[0] = true;
  return answer_lock_up(shop, plan_closing(shop, lock_up(shop, state, pending, {}), options));
}

std::vector<PendingDuty> some_pending(const Shop& shop) {
  PendingDuty bench = pending_zone(shop, "bench");
  bench.passed_on = true;
  bench.reason = "no time";
  return {bench, pending_bin("bag")};
}

bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

int columns_of(const std::string& line) {
  return static_cast<int>(std::ranges::count_if(line, [](char c) { return (c & 0xC0) != 0x80; }));
}

}  // namespace

TEST_CASE("the lock-up's answer has every duty in order, with its place and who owes it") {
  const Shop shop = shop_to_close();
  const proto::LockUp answer = answer_for(shop, some_pending(shop));
  CHECK(answer.shop() == "Small shop");
  int owed = 0;
  for (int i = 0; i < answer.duties_size(); ++i) {
    const proto::ClosingDuty& duty = answer.duties(i);
    CHECK(duty.order() == i + 1);
    CHECK(duty.minutes() > 0);
    CHECK(duty.minutes_p80() >= duty.minutes());
    CHECK(duty.walk_minutes() <= duty.minutes());
    CHECK(duty.building() == !duty.standard().empty());
    owed += duty.owed_by_size();
    if (duty.id() != "zone:bench") continue;
    CHECK(duty.since() == "passed on 2 h ago: no time");
    CHECK(duty.age_minutes() == 120);
    REQUIRE(duty.owed_by_size() == 1);
    CHECK(duty.owed_by(0).device() == "A");
    CHECK(duty.owed_by(0).sequence() == 7);
    CHECK(duty.owed_by(0).reason() == "no time");
    CHECK(duty.zone() == "bench");
    CHECK(duty.tool_name() == "hose");
  }
  CHECK(owed == 2);
  CHECK(answer.walk_bound_minutes() <= answer.walk_minutes());
  CHECK(answer.finish().begins_at() == "21:30");
  CHECK(answer.lanes_size() == 1);
  CHECK(answer.lanes(0).steps_size() == answer.duties_size());
  for (const proto::SignOff& check : answer.sign_off()) {
    REQUIRE(check.orders_size() == check.duties_size());
    for (int i = 0; i < check.orders_size(); ++i) {
      CHECK(answer.duties(check.orders(i) - 1).id() == check.duties(i));
      CHECK(answer.duties(check.orders(i) - 1).safety());
    }
  }
}

TEST_CASE("the lock-up reads with what was left over, what to sign off and what to do if not") {
  const Shop shop = shop_to_close();
  const std::string text = lock_up_text(answer_for(shop, some_pending(shop)), 88);
  CHECK(has(text, "Small shop: lock-up"));
  CHECK(has(text, "From 21:30: closed by "));
  CHECK(has(text, "2 of the "));
  CHECK(has(text, "passed on 2 h ago: no time"));
  CHECK(has(text, "Old saw is out of order: stop released, tag in place?"));
  CHECK(has(text, "call the fire service"));
  CHECK(has(text, "Before you say \"closed\"\n  [ ] "));
  CHECK(has(text, "if not: Never leave warm dust"));
  CHECK(!has(text, "Who does what"));
  // The way out is the last number, and the last check at the door.
  CHECK(text.rfind("Out, and lock the door behind you") > text.find("Before you say"));
}

TEST_CASE("no line of the lock-up is wider than asked for") {
  const Shop shop = shop_to_close();
  for (int columns : {40, 60, 88}) {
    for (int people : {1, 3}) {
      std::istringstream lines(lock_up_text(answer_for(shop, some_pending(shop), people), columns));
      for (std::string line; std::getline(lines, line);) {
        CAPTURE(line);
        CHECK(columns_of(line) <= columns);
      }
    }
  }
}

TEST_CASE("helpers see who does what, and short time says what is passed on again") {
  const Shop shop = shop_to_close();
  const std::vector<PendingDuty> pending{pending_zone(shop, "bench", 60)};
  const std::string text = lock_up_text(answer_for(shop, pending, 2, 15), 88);
  CHECK(has(text, "Who does what\n  A\n"));
  CHECK(has(text, "Passed on again, for the next who comes\n  - bench: Vac"));
  CHECK(!has(text, "*bench"));
}

TEST_CASE("a check whose duties are done is ticked") {
  const Shop shop = shop_to_close();
  ClosingOptions options;
  options.done = {"lock-rags"};
  const ClosingPlan plan = plan_closing(shop, lock_up(shop, clean_state(shop), {}, {}), options);
  const std::string text = lock_up_text(answer_lock_up(shop, plan), 88);
  CHECK(has(text, "  [x] Oily rags"));
  CHECK(!has(text, ". Oily rags"));
}

TEST_CASE("checks at the door come in the order in which one passed them") {
  const Shop shop = shop_to_close();
  const proto::LockUp answer = answer_for(shop, some_pending(shop));
  int last = 0;
  for (const proto::SignOff& check : answer.sign_off()) {
    const int passed = *std::ranges::max_element(check.orders());
    CHECK(passed > last);
    last = passed;
  }
}

TEST_CASE("a newer answer with nothing in it still reads") {
  CHECK(has(lock_up_text(proto::LockUp(), 40), "lock-up"));
}
