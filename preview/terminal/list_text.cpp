#include "preview/terminal/list_text.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/duty/say.h"
#include "core/shop/words.h"
#include "preview/terminal/list_parts.h"
#include "preview/terminal/sheet_words.h"

namespace chipfall {
namespace {

std::string head(const proto::WindDown& answer, int columns) {
  const proto::Finish& finish = answer.finish();
  std::string out = fmt::format("{}: {}\n\n", answer.shop(), answer.session());
  const bool under_way = !finish.begins_at().empty() && finish.tools_down_by().empty();
  if (under_way) {
    out += fmt::format("  From {}: done by {} on four evenings in five{}.\n", finish.begins_at(),
                       finish.done_by(),
                       finish.leave_at().empty() ? "" : ", to leave at " + finish.leave_at());
  }
  if (!finish.tools_down_by().empty()) {
    out += fmt::format("  Tools down by {}{} to leave at {}.\n", finish.tools_down_by(),
                       finish.day_before() ? " the day before" : "", finish.leave_at());
  }
  out += fmt::format("  Plan {} for {}: {} most likely, {} on four evenings in five.\n",
                     say_minutes(finish.minutes_p80()), people_in_words(answer.people()),
                     say_minutes(finish.minutes_median()), say_minutes(finish.minutes_p80()));
  if (answer.people() > 1 && !under_way) {
    out += fmt::format("  The work in all: {} of one person's time.\n",
                       say_minutes(answer.minutes_median()));
  }
  if (answer.minimum_applied()) {
    out += paragraph("  ",
                     "The list is shorter than the shop's minimum; give the rest of the "
                     "time to whatever looks dusty.",
                     columns);
  }
  return out;
}

std::string origin(const proto::WindDown& answer, Units units) {
  const proto::Balance& b = answer.balance();
  return fmt::format(
      "{} of wood became chips and dust: {} went into bins, {} fell in the room, {} filtered or "
      "blown out, {} still in the air.",
      say_mass(b.removed(), units), say_mass(b.in_bins(), units), say_mass(b.on_zones(), units),
      say_mass(b.filtered() + b.vented(), units), say_mass(b.airborne(), units));
}

std::string duty_text(const proto::Duty& duty, SaidBefore& said, int columns) {
  const std::string number = fmt::format("{:>3}. ", duty.order());
  std::string line = fmt::format("{} ({})", duty.title(), say_half_minutes(duty.minutes()));
  if (duty.people() > 1) line += fmt::format(", {} together", people_in_words(duty.people()));
  std::string out = paragraph(number, line, columns);
  for (const std::string& step : duty.steps()) out += paragraph("       - ", step, columns);
  if (!duty.tool_name().empty()) out += paragraph("     with ", duty.tool_name(), columns);
  if (!duty.why().empty() && duty.kind() != "reset") {
    out += paragraph("     why  ", duty.why(), columns);
  }
  const std::string caution = caution_text(duty.caution(), duty.order(), said);
  if (!caution.empty()) out += paragraph("     CARE ", caution, columns);
  return out;
}

std::string closing(const proto::WindDown& answer, Units units, int columns) {
  std::string out = "\nWhere it came from\n";
  out += paragraph("  ", origin(answer, units), columns);
  for (const proto::UseDust& use : answer.uses()) {
    std::string line =
        fmt::format("{}, {} in {}: {} made, {} caught{}; clean out to {}", use.name(),
                    say_minutes(use.minutes()), use.stock(), say_mass(use.removed_g(), units),
                    say_mass(use.captured_g(), units), use.extraction() ? "" : " (no extraction)",
                    say_length(use.clean_out_m(), units));
    out += paragraph("  - ", line, columns);
  }
  for (const std::string& note : answer.notes()) out += paragraph("  - ", note, columns);
  out += "\nTake care\n";
  for (const std::string& caution : answer.cautions()) out += paragraph("  ! ", caution, columns);
  return out;
}

}  // namespace

std::string list_text(const proto::WindDown& answer, int columns) {
  const Units units = parse<Units>(answer.units()).value_or(Units::kMetric);
  std::string out = head(answer, columns);
  out += lanes_text(answer.lanes(), answer.finish(), answer.sharing(), columns);
  std::string phase;
  SaidBefore said;
  for (const proto::Duty& duty : answer.duties()) {
    if (duty.passed_on() || duty.done()) continue;
    if (duty.phase() != phase) {
      phase = duty.phase();
      out += fmt::format("\n{}\n", phase_heading(phase));
    }
    out += duty_text(duty, said, columns);
  }
  out += passed_on_text("Passed on, for the next who comes", answer.passed_on(), columns);
  if (!answer.passed_on().empty()) {
    out += over_text("What is for safety stays", answer.finish(), columns);
  }
  return out + closing(answer, units, columns);
}

}  // namespace chipfall
