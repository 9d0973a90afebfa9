#include "preview/terminal/bins_text.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/duty/say.h"
#include "core/shop/words.h"
#include "preview/terminal/list_parts.h"
#include "preview/terminal/round_text.h"
#include "preview/terminal/sheet_words.h"

namespace chipfall {
namespace {

Units units_in(const std::string& word) { return parse<Units>(word).value_or(Units::kMetric); }

/// What to do about a bin, in a word, before its name.
std::string verdict(const proto::BinOutlook& bin) {
  if (bin.look_first()) return "LOOK ";
  if (bin.chance_full() >= 0.5 || bin.expected_fill_share() >= bin.empty_at_share()) {
    return "EMPTY";
  }
  if (bin.has_days_to_half_chance() && bin.days_to_half_chance() <= 7) return "SOON ";
  return "     ";
}

std::string belief_line(const proto::BinOutlook& bin, Units units) {
  std::string line =
      fmt::format("about {} of {} full", say_percent(std::min(1.0, bin.expected_fill_share())),
                  say_volume(bin.volume_l() / 1000, units));
  if (bin.expected_fill_share() >= 1) {
    line =
        fmt::format("full to the brim of {} or over it", say_volume(bin.volume_l() / 1000, units));
  }
  line += fmt::format("; {}", bin.evidence());
  if (bin.since_emptied_l() >= 1) {
    line += fmt::format("; {} should have gone in since it was emptied",
                        say_volume(bin.since_emptied_l() / 1000, units));
  }
  return line;
}

std::string end_text(const proto::LiftEnd& end, Units units) {
  return fmt::format("hands at {}: H {:.2f} V {:.2f} D {:.2f} A {:.2f} F {:.2f} C {:.2f}",
                     say_length(end.hands_cm() / 100, units), end.horizontal(), end.vertical(),
                     end.distance(), end.asymmetry(), end.frequency(), end.coupling());
}

std::string lift_text(const proto::BinOutlook& bin, Units units, int columns) {
  const proto::LiftAnswer& lift = bin.lift();
  std::string who = bin.people() > 1 ? fmt::format("{} lift it", people_in_words(bin.people()))
                                     : std::string("one person may lift it");
  if (lift.index() > bin.people()) who += ", and some is scooped out first";
  const std::string line =
      fmt::format("full it weighs about {}: {} (recommended limit {}, lifting index {:.1f})",
                  say_mass(1000 * bin.full_kg(), units), who,
                  say_mass(1000 * lift.limit_kg(), units), lift.index());
  return paragraph("        lift  ", line, columns) +
         paragraph("              ",
                   fmt::format("{} times, {}; {}", say_mass(1000 * lift.load_constant_kg(), units),
                               end_text(lift.start(), units), end_text(lift.end(), units)),
                   columns);
}

std::string bag_text(const proto::BinOutlook& bin) {
  if (bin.bag().empty()) return {};
  if (!bin.has_bags_left()) return fmt::format("{}: nobody has counted them yet", bin.bag());
  return fmt::format("{}: {:.4g} left", bin.bag(), bin.bags_left());
}

std::string bin_text(const proto::BinOutlook& bin, Units units, int columns) {
  const std::string bar = bin.known() ? fill_bar(bin.expected_fill_share(), bin.empty_at_share())
                                      : std::string("[    ?     ]");
  std::string out = fmt::format("  {} {}  {}\n", verdict(bin), bar, bin.name());
  if (bin.known()) {
    out += paragraph("              ", belief_line(bin, units), columns);
    out += paragraph("        then  ", bin.forecast(), columns);
  } else {
    out += paragraph(
        "              ",
        "nobody has looked into it yet: a glance and a word tell more than any estimate", columns);
  }
  if (bin.known() && bin.look_first()) {
    out += paragraph("        look  ",
                     "more should have fallen since than it holds: perhaps somebody emptied it "
                     "without a word",
                     columns);
  }
  for (const std::string& doubt : bin.doubts()) out += paragraph("        but   ", doubt, columns);
  if (!bin.pace().empty()) out += paragraph("        pace  ", bin.pace(), columns);
  if (bin.has_lift()) out += lift_text(bin, units, columns);
  const std::string bags = bag_text(bin);
  if (!bags.empty()) out += paragraph("        bags  ", bags, columns);
  return out;
}

std::string notes_text(const google::protobuf::RepeatedPtrField<std::string>& notes, int columns) {
  if (notes.empty()) return {};
  std::string out = "\nNot used\n";
  for (const std::string& note : notes) out += paragraph("  - ", note, columns);
  return out;
}

/// A heading with its lines, or nothing where there is no line.
template <typename List, typename Line>
std::string chapter(const std::string& heading, const List& list, int columns, const Line& line) {
  if (list.empty()) return {};
  std::string out = fmt::format("\n{}\n", heading);
  for (const auto& entry : list) out += paragraph("  - ", line(entry), columns);
  return out;
}

std::string machines_text(const proto::Coordinator& answer, int columns) {
  if (answer.machines_out().empty()) return {};
  std::string out = "\nOut of order\n";
  std::vector<std::string> said;
  for (const proto::MachineOutNotice& notice : answer.machines_out()) {
    std::string line = fmt::format("{}, since {}", notice.name(), notice.since());
    if (notice.since().starts_with("on ")) {
      line = fmt::format("{}, since {}", notice.name(), notice.since().substr(3));
    }
    if (!notice.reason().empty()) line += fmt::format(": {}", notice.reason());
    out += paragraph("  - ", line, columns);
    if (notice.back_unseen()) {
      out += paragraph("    ",
                       "Somebody noted it as back without having seen this; it stays out until one "
                       "who has looked says so.",
                       columns);
    }
    for (const std::string& step : notice.try_first()) {
      if (std::ranges::find(said, step) != said.end()) continue;
      if (said.empty()) out += "    Before it is tagged out, try:\n";
      said.push_back(step);
      out += paragraph("      . ", step, columns);
    }
  }
  return out;
}

}  // namespace

std::string fill_bar(double fill_share, double empty_at_share) {
  constexpr int kCells = 10;
  const int filled = std::clamp(static_cast<int>(std::lround(kCells * fill_share)), 0, kCells);
  const int mark = std::clamp(static_cast<int>(std::lround(kCells * empty_at_share)), 1, kCells);
  std::string out = "[";
  for (int i = 0; i < kCells; ++i) {
    const bool full = i < filled;
    out += i + 1 == mark ? (full ? '|' : ':') : (full ? '#' : '.');
  }
  return out + "]";
}

std::string bins_text(const proto::Bins& bins, int columns) {
  const Units units = units_in(bins.units());
  std::string out =
      fmt::format("{}: the bins on {}, most pressing first\n\n", bins.shop(), bins.as_of());
  for (const proto::BinOutlook& bin : bins.bins()) out += bin_text(bin, units, columns);
  return out + notes_text(bins.notes(), columns);
}

std::string coordinator_text(const proto::Coordinator& answer, int columns) {
  const auto text = [](const auto& entry) { return entry.text(); };
  std::string out = bins_text(answer.bins(), columns) + "\n" + round_text(answer.round(), columns);
  out += machines_text(answer, columns);
  out += chapter("Supplies", answer.supplies(), columns, [](const proto::SupplyNotice& supply) {
    return fmt::format("{}: {}", supply.name(), supply.text());
  });
  out += chapter("Layers of dust", answer.layers(), columns, text);
  out += chapter("How the estimates held", answer.estimates(), columns, text);
  out += chapter("Where the shop could use a hand", answer.behind(), columns, text);
  return out + notes_text(answer.notes(), columns);
}

}  // namespace chipfall
