#include "tests/window/desk_under_test.h"

using namespace chipfall;
using namespace chipfall::window;
using namespace chipfall::window::test;

TEST_CASE("the volunteer goes round, checks and closes, at two sizes of text") {
  for (const float size : {1.0F, 2.0F, 3.1F}) {
    CAPTURE(size);
    DeskUnderTest desk({"closer"}, false, size);
    desk.tap("evening/people/+1");
    desk.tap("evening/route");
    const proto::LockUp list = *desk.phone().closer.list;
    CHECK(list.people() == 2);
    REQUIRE(list.duties_size() > 5);
    desk.tap("route/done");
    CHECK(desk.count("done") == 1);
    desk.tap("route/view/1");
    desk.tap("route/view/2");
    desk.tap("route/sign-off");
    CHECK(desk.says("Closed, with these open"));
    for (const proto::SignOff& check : list.sign_off()) desk.tap("sign-off/" + check.id());
    CHECK_FALSE(desk.says("Closed, with these open"));
    desk.tap("sign-off/close");
    CHECK(desk.says("Thank you for closing up."));
    CHECK(desk.count("closed") == 1);
  }
}

TEST_CASE("what was not confirmed goes into the record of the closing, and nobody is named") {
  DeskUnderTest desk({"closer"});
  desk.tap("evening/route");
  desk.tap("route/checks");
  desk.tap("sign-off/close");
  const auto history = desk.history();
  CHECK(history.front().kind() == "closed");
  CHECK(history.front().text().find("not confirmed") != std::string::npos);
  CHECK(history.front().member().empty());
}

TEST_CASE("a duty that several lists owe is ended on each of them") {
  DeskUnderTest desk({"closer"}, true);
  desk.tap("evening/route");
  CloserState& closer = desk.phone().closer;
  int at = -1;
  for (int i = 0; i < closer.list->duties_size(); ++i) {
    if (closer.list->duties(i).owed_by_size() > 0) at = i;
  }
  REQUIRE(at >= 0);
  const int owed = desk.standing().duties_size();
  const int lists = closer.list->duties(at).owed_by_size();
  closer.at = at;
  desk.settle_all();
  desk.tap("route/done");
  CHECK(desk.standing().duties_size() == owed - lists);
}

TEST_CASE("the closer's script plays") {
  DeskUnderTest desk({"closer"}, true, 2);
  desk.play_file("closer.script");
}

TEST_CASE("minutes of a closing duty are recorded once, however many lists owe it") {
  DeskUnderTest desk({"closer"}, true);
  desk.tap("evening/route");
  Phone& phone = desk.phone();
  std::int64_t skew_ms = 0;
  for (int i = 0; i < phone.closer.list->duties_size(); ++i) {
    const proto::ClosingDuty duty = phone.closer.list->duties(phone.closer.at);
    if (duty.done() || duty.passed_on()) break;
    skew_ms += 2 * 60'000;
    phone.device->set_skew(skew_ms);
    const auto before = desk.history().size();
    desk.tap("route/done");
    const auto lines = desk.history();
    const auto fresh = lines.size() - before;
    const auto timed =
        std::count_if(lines.begin(), lines.begin() + static_cast<std::ptrdiff_t>(fresh),
                      [](const proto::HistoryLine& line) {
                        return line.text().find(", 2 min") != std::string::npos;
                      });
    CHECK(fresh == static_cast<std::size_t>(std::max(1, duty.owed_by_size())));
    CHECK(timed == 1);
    if (duty.owed_by_size() > 1 || i > 6) break;
  }
}
