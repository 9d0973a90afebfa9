#include <algorithm>

#include <fmt/format.h>

#include "core/duty/say.h"
#include "core/shop/words.h"
#include "preview/terminal/sheet_words.h"
#include "preview/window/screens.h"

namespace chipfall::window {
namespace {

constexpr int kMostDays = 60;

void stop_card(Pen& pen, Phone& phone, const proto::RoundStop& stop, int order, Units units) {
  pen.card();
  pen.text(fmt::format("{}. {}", order, stop.name()), Face::kBold);
  std::string words = fmt::format("{}, about {}", say_half_minutes(stop.minutes()),
                                  say_volume(stop.litres() / 1000, units));
  if (stop.people() > 1) words += fmt::format(", {} together", people_in_words(stop.people()));
  pen.text(words, Face::kTitle);
  pen.gap(4);
  pen.text(stop.why(), Face::kBody, kSoftInk);
  if (!stop.bag().empty()) pen.named("Bring", stop.bag() + ", one");
  pen.gap(6);
  for (const std::string& caution : stop.cautions()) pen.care(caution);
  if (pen.button({"round/emptied/" + stop.bin(), "Emptied", Look::kPlain, Icon::kCheck})) {
    proto::Record what;
    what.mutable_bin_emptied()->set_bin(stop.bin());
    what.mutable_bin_emptied()->set_bag_replaced(!stop.bag().empty());
    phone.record(what, [&phone](const proto::Recorded&) { phone.ask_coordinator(); });
  }
  pen.card_end();
}

void bags_part(Pen& pen, const proto::Round& round) {
  if (round.bags().empty()) return;
  pen.heading("Bring");
  for (const proto::BagsToCarry& bags : round.bags()) {
    std::string line = fmt::format("{} of \"{}\"", bags.count(), bags.name());
    if (bags.has_left()) {
      line += bags.left() < bags.count() ? fmt::format(": only {:.4g} left, order now", bags.left())
                                         : fmt::format("; {:.4g} are left", bags.left());
    }
    pen.bullet(line);
  }
}

}  // namespace

void round_part(Pen& pen, Phone& phone) {
  CoordinatorState& state = phone.coordinator;
  const proto::Round& round = state.answer->round();
  const Units units = parse<Units>(round.units()).value_or(Units::kMetric);
  pen.card();
  pen.text("The next round is in", Face::kBold);
  pen.gap(6);
  const int step = pen.stepper(
      "round/days",
      state.next_round_days == 1 ? "1 day" : fmt::format("{} days", state.next_round_days),
      {-7, -1, 1, 7}, {"-7", "-1", "+1", "+7"});
  if (step != 0) {
    state.next_round_days = std::clamp(state.next_round_days + step, 0, kMostDays);
    phone.ask_coordinator();
  }
  pen.card_end();
  if (round.stops().empty()) {
    pen.text("No bin needs emptying before then, most likely.", Face::kTitle);
  } else {
    pen.text(fmt::format("{} stop{}, about {} for {}, {} of it walking.", round.stops_size(),
                         round.stops_size() == 1 ? "" : "s", say_minutes(round.minutes()),
                         people_in_words(round.people()), say_half_minutes(round.walk_minutes())),
             Face::kBold);
    if (!round.until().empty()) {
      pen.text(fmt::format("With what will probably fill {}.", round.until()), Face::kSmall,
               kSoftInk);
    }
  }
  pen.gap();
  int order = 0;
  for (const proto::RoundStop& stop : round.stops()) stop_card(pen, phone, stop, ++order, units);
  bags_part(pen, round);
  if (!round.looks().empty()) pen.heading("Look into these on the way");
  for (const proto::RoundLook& look : round.looks()) {
    pen.bullet(fmt::format("{}: {}", look.name(), look.why()));
  }
  if (!round.cautions().empty()) pen.gap();
  pen.cares({round.cautions().begin(), round.cautions().end()});
}

}  // namespace chipfall::window
