#include "preview/window/duty_card.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/duty/say.h"
#include "preview/terminal/sheet_words.h"

namespace chipfall::window {

std::string ending_words(const std::string& ending) {
  if (ending == "done") return "Done";
  if (ending == "passed on") return "Passed on";
  if (ending == "not needed") return "Not needed";
  return ending;
}

std::string duty_minutes(double minutes, int people) {
  std::string out = say_half_minutes(minutes);
  if (people > 1) out += fmt::format(", {} together", people_in_words(people));
  return out;
}

void duty_card(Pen& pen, const DutyWords& duty) {
  const bool ended = !duty.ending.empty();
  pen.card(kCard, ended ? kLeaf : kHairline);
  pen.text(duty.counted, Face::kSmall, kSoftInk);
  if (ended)
    pen.text(fmt::format("{}. It is saved.", ending_words(duty.ending)), Face::kBold, kLeaf);
  pen.text(duty.title, Face::kTitle);
  pen.gap(4);
  pen.text(duty.when, Face::kBold);
  pen.gap(4);
  if (!duty.tool.empty()) pen.named("With", duty.tool);
  if (!duty.place.empty()) pen.named("At", duty.place);
  if (!duty.steps.empty()) pen.gap(4);
  for (const std::string& step : duty.steps) pen.bullet(step);
  if (!duty.why.empty()) {
    pen.line();
    pen.text(duty.why, Face::kBody, kSoftInk);
  }
  pen.card_end();
  if (!duty.caution.empty()) pen.care(duty.caution);
}

bool duty_row(Pen& pen, const std::string& id, int order, const std::string& title,
              const std::string& words, const std::string& ending) {
  const bool ended = !ending.empty();
  const Icon icon = ending == "done"        ? Icon::kCheck
                    : ending == "passed on" ? Icon::kPass
                    : ended                 ? Icon::kCross
                                            : Icon::kNext;
  return pen.row(id, fmt::format("{}. {}", order, title), ended ? ending_words(ending) : words,
                 icon, ended);
}

void progress_part(Pen& pen, const std::string& words, int ended, int of) {
  pen.text(words, Face::kBold);
  const float share = of > 0 ? static_cast<float>(ended) / static_cast<float>(of) : 0;
  const float y = pen.y() + 4;
  pen.fill({pen.left(), y, pen.right(), y + 10}, kHairline, 5);
  if (share > 0) {
    pen.fill({pen.left(), y, pen.left() + std::max(10.0F, share * pen.width()), y + 10}, kLeaf, 5);
  }
  pen.gap(22);
}

void lanes_part(Pen& pen, const google::protobuf::RepeatedPtrField<proto::Lane>& lanes,
                const std::string& sharing) {
  for (const proto::Lane& lane : lanes) {
    pen.card();
    pen.text(lane.person(), Face::kTitle);
    for (const proto::LaneStep& step : lane.steps()) {
      pen.gap(6);
      const std::string when = step.starts_at().empty()
                                   ? fmt::format("+{:.0f} min", std::floor(step.start_minute()))
                                   : step.starts_at();
      std::string words = fmt::format("{}. {}", step.order(), step.title());
      if (step.with_size() > 0) {
        words += fmt::format(", with {}", join({step.with().begin(), step.with().end()}));
      }
      if (step.fetch()) words += fmt::format("; fetch the {}", step.tool_name());
      pen.named(when, words);
    }
    if (lane.steps().empty()) pen.text("Lends a hand where it is wanted.");
    if (!lane.home_at().empty() && !lane.steps().empty()) {
      pen.gap(6);
      pen.named(lane.home_at(), "done");
    }
    pen.card_end();
  }
  if (!sharing.empty()) pen.text(sharing, Face::kSmall, kSoftInk);
}

}  // namespace chipfall::window
