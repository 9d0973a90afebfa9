#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "core/duty/say.h"
#include "preview/window/screens.h"

namespace chipfall::window {
namespace {

/// Where the door has no sentence about how these estimates held.
std::string plain_words(const proto::EstimatesHeld& held) {
  static const std::map<std::string, std::string> kKinds{{"zone", "Cleaning zones"},
                                                         {"common", "The shop's fine dust"},
                                                         {"reset", "Leaving machines as found"},
                                                         {"bin", "Bins"},
                                                         {"filter", "Filters"},
                                                         {"air", "The air"},
                                                         {"close", "Closing"}};
  const auto found = kKinds.find(held.kind());
  return fmt::format("{}: {} promised, {} taken, over {} dut{}",
                     found == kKinds.end() ? held.kind() : found->second,
                     say_minutes(held.promised_minutes()), say_minutes(held.taken_minutes()),
                     held.duties(), held.duties() == 1 ? "y" : "ies");
}

/// Promised above, as an outline; taken below, filled: two shapes, not two colours.
void pair_of_bars(Pen& pen, const proto::EstimatesHeld& held, double most) {
  const Rect at = pen.picture("held/" + held.week() + held.kind(), "promised and taken", 26);
  const auto to = [&](double minutes) {
    return at.left + std::max(3.0F, static_cast<float>(minutes / most) * at.width());
  };
  if (!meet(at, pen.clip()) || most <= 0) return;
  const Rect promised{at.left, at.top + 3, to(held.promised_minutes()), at.top + 12};
  pen.fill(promised, kCard, 3);
  pen.edge(promised, kInk, 1.6F, 3);
  pen.fill({at.left, at.top + 14, to(held.taken_minutes()), at.top + 23}, kWalnut, 3);
}

}  // namespace

void minutes_part(Pen& pen, Phone& phone) {
  const auto& all = phone.coordinator.answer->estimates();
  if (all.empty()) {
    pen.text(
        "Nobody has timed a duty yet. Minutes that people give show here how well the list's "
        "estimates hold; never by person.");
    return;
  }
  pen.text("Minutes that the lists promised, and what it took. Never by person.");
  pen.text("Outline: promised. Filled: taken.", Face::kSmall, kSoftInk);
  double most = 0;
  for (const proto::EstimatesHeld& held : all) {
    most = std::max({most, held.promised_minutes(), held.taken_minutes()});
  }
  std::string week;
  for (const proto::EstimatesHeld& held : all) {
    if (held.week() != week) {
      week = held.week();
      pen.heading(fmt::format("Week of {}", week));
    }
    pair_of_bars(pen, held, most);
    pen.text(held.text().empty() ? plain_words(held) : held.text());
    pen.gap(6);
  }
}

}  // namespace chipfall::window
