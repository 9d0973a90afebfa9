#include "preview/terminal/round_text.h"

#include <fmt/format.h>

#include "core/duty/say.h"
#include "core/shop/words.h"
#include "preview/terminal/list_parts.h"
#include "preview/terminal/sheet_words.h"

namespace chipfall {
namespace {

std::string stop_text(const proto::RoundStop& stop, int order, Units units, int columns) {
  std::string line = fmt::format("{} ({}, about {}", stop.name(), say_half_minutes(stop.minutes()),
                                 say_volume(stop.litres() / 1000, units));
  line += stop.people() > 1 ? fmt::format("), {} together", people_in_words(stop.people())) : ")";
  std::string out = paragraph(fmt::format("{:>3}. ", order), line, columns);
  out += paragraph("     why  ", stop.why(), columns);
  if (!stop.bag().empty()) out += paragraph("     bring ", stop.bag() + ", one", columns);
  for (const std::string& caution : stop.cautions())
    out += paragraph("     CARE ", caution, columns);
  return out;
}

std::string bags_text(const proto::Round& round, int columns) {
  if (round.bags().empty()) return {};
  std::string out = "\nBring\n";
  for (const proto::BagsToCarry& bags : round.bags()) {
    std::string line = fmt::format("{} of \"{}\"", bags.count(), bags.name());
    if (bags.has_left()) {
      line += bags.left() < bags.count()
                  ? fmt::format(": only {:.4g} left, order now", bags.left())
                  : fmt::format("; {:.4g} are left before the round", bags.left());
    }
    out += paragraph("  - ", line, columns);
  }
  return out;
}

}  // namespace

std::string round_text(const proto::Round& round, int columns) {
  const Units units = parse<Units>(round.units()).value_or(Units::kMetric);
  std::string out = fmt::format("{}: the emptying round\n", round.shop());
  const std::string until =
      round.until().empty() ? "" : fmt::format(" before the next round {}", round.until());
  if (round.stops().empty()) {
    out += paragraph(
        "  ",
        fmt::format("No bin needs emptying now, nor probably{}.", until.empty() ? " today" : until),
        columns);
  } else {
    out += paragraph(
        "  ",
        fmt::format(
            "{} stop{}, about {} for {}, {} of it walking{}.", round.stops_size(),
            round.stops_size() == 1 ? "" : "s", say_minutes(round.minutes()),
            people_in_words(round.people()), say_half_minutes(round.walk_minutes()),
            round.shortest() && round.stops_size() > 2 ? "; no other order walks less" : ""),
        columns);
    if (!until.empty())
      out += paragraph("  ", fmt::format("With what will probably fill{}.", until), columns);
  }
  out += "\n";
  int order = 0;
  for (const proto::RoundStop& stop : round.stops())
    out += stop_text(stop, ++order, units, columns);
  out += bags_text(round, columns);
  if (!round.looks().empty()) {
    out += "\nLook into these on the way, and say what you see\n";
    for (const proto::RoundLook& look : round.looks()) {
      out += paragraph("  - ", fmt::format("{}: {}", look.name(), look.why()), columns);
    }
  }
  if (!round.cautions().empty()) out += "\nTake care\n";
  for (const std::string& caution : round.cautions()) out += paragraph("  ! ", caution, columns);
  return out;
}

}  // namespace chipfall
