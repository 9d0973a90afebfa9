#include "preview/terminal/lock_up_text.h"

#include <algorithm>
#include <vector>

#include <fmt/format.h>

#include "core/duty/say.h"
#include "preview/terminal/list_parts.h"
#include "preview/terminal/sheet_words.h"

namespace chipfall {
namespace {

/// Less than this needs no figure beside it.
constexpr double kAMoment_minutes = 0.75;

std::string walk_text(const proto::LockUp& answer) {
  const std::string walk = say_half_minutes(answer.walk_minutes());
  if (answer.walk_proven())
    return fmt::format("{} of it is walking; no way round is shorter.", walk);
  return fmt::format("{} of it is walking; no way round takes less than {}.", walk,
                     say_half_minutes(answer.walk_bound_minutes()));
}

std::string head(const proto::LockUp& answer, int columns) {
  const proto::Finish& finish = answer.finish();
  std::string out = fmt::format("{}: lock-up\n\n", answer.shop());
  if (!finish.begins_at().empty()) {
    out += paragraph("  ",
                     fmt::format("From {}: closed by {} on four evenings in five.",
                                 finish.begins_at(), finish.done_by()),
                     columns);
  }
  out += paragraph(
      "  ",
      fmt::format("Plan {} for {}: {} most likely, {} on four evenings in five.",
                  say_minutes(finish.minutes_p80()), people_in_words(answer.people()),
                  say_minutes(finish.minutes_median()), say_minutes(finish.minutes_p80())),
      columns);
  if (answer.people() == 1) out += paragraph("  ", walk_text(answer), columns);
  const auto left_over = std::ranges::count_if(
      answer.duties(), [](const proto::ClosingDuty& duty) { return !duty.building(); });
  if (left_over > 0) {
    out += paragraph("  ",
                     fmt::format("{} of the {} duties {} left over from earlier lists, marked *.",
                                 left_over, answer.duties_size(), left_over == 1 ? "is" : "are"),
                     columns);
  }
  out += paragraph("  ", "Where no minutes stand, it takes half of one.", columns);
  for (const std::string& note : answer.notes()) out += paragraph("  - ", note, columns);
  return out;
}

std::string duty_text(const proto::ClosingDuty& duty, SaidBefore& said, int columns) {
  std::string line = duty.title();
  if (duty.minutes() >= kAMoment_minutes) {
    line += fmt::format(" ({})", say_half_minutes(duty.minutes()));
  }
  if (duty.people() > 1) line += fmt::format(", {} together", people_in_words(duty.people()));
  std::string out =
      paragraph(fmt::format("{:>3}.{}", duty.order(), duty.building() ? ' ' : '*'), line, columns);
  if (duty.building()) {
    // Names of places close together are quicker to read in one line.
    const std::vector<std::string> names(duty.steps().begin(), duty.steps().end());
    const std::string where = names.empty() ? duty.place() : join(names);
    if (!where.empty()) out += paragraph("     at   ", where, columns);
  } else {
    for (const std::string& step : duty.steps()) out += paragraph("       - ", step, columns);
  }
  if (!duty.tool_name().empty()) out += paragraph("     with ", duty.tool_name(), columns);
  // Why a shop is closed this way is the same every night; why something is left over is not.
  if (!duty.since().empty()) out += paragraph("     why  ", duty.since(), columns);
  const std::string caution = caution_text(duty.caution(), duty.order(), said);
  // The third gate needs no pointer to the caution of the first; the third warm bin does.
  const bool only_points = caution.starts_with("as at ") && duty.building() && !duty.safety();
  if (!caution.empty() && !only_points) out += paragraph("     CARE ", caution, columns);
  return out;
}

std::string sign_off_text(const proto::LockUp& answer, int columns) {
  std::string out = "\nBefore you say \"closed\"\n";
  for (const proto::SignOff& check : answer.sign_off()) {
    std::vector<std::string> orders;
    bool done = check.orders_size() > 0;
    for (int order : check.orders()) {
      orders.push_back(std::to_string(order));
      done = done && answer.duties(order - 1).done();
    }
    if (done) {
      out += paragraph("  [x] ", check.title(), columns);
      continue;
    }
    out += paragraph("  [ ] ", fmt::format("{} ({})", check.title(), join(orders)), columns);
    out += paragraph("      if not: ", check.if_not(), columns);
  }
  return out;
}

}  // namespace

std::string lock_up_text(const proto::LockUp& answer, int columns) {
  std::string out = head(answer, columns);
  out += lanes_text(answer.lanes(), answer.finish(), "", columns);
  out += "\nTake care\n";
  for (const std::string& caution : answer.cautions()) out += paragraph("  ! ", caution, columns);
  out += "\nIn walking order\n";
  SaidBefore said;
  for (const proto::ClosingDuty& duty : answer.duties()) {
    if (duty.passed_on() || duty.done()) continue;
    out += duty_text(duty, said, columns);
  }
  out += passed_on_text("Passed on again, for the next who comes", answer.passed_on(), columns);
  if (!answer.passed_on().empty()) {
    out += over_text("Closing the building stays", answer.finish(), columns);
  }
  return out + sign_off_text(answer, columns);
}

}  // namespace chipfall
