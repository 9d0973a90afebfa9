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
  const bool due = bin.chance_full() >= 0.5 || bin.expected_fill_share() >= bin.empty_at_share();
  if (bin.known() && due) return "EMPTY";
  if (bin.known() && bin.has_days_to_due() && bin.days_to_due() <= 7) return "SOON ";
  return "     ";
}

/// To the nearest 5 %: nobody knows it better.
std::string fill_in_words(const proto::BinOutlook& bin, Units units) {
  const std::string volume = say_volume(bin.volume_l() / 1000, units);
  const double fill = std::round(20 * bin.expected_fill_share()) / 20;
  if (fill >= 1) return fmt::format("full to the brim ({}) or over it", volume);
  if (fill < 0.05) return fmt::format("as good as empty ({})", volume);
  return fmt::format("about {} of {} full", say_percent(fill), volume);
}

std::string belief_line(const proto::BinOutlook& bin, Units units) {
  const std::string since = say_volume(bin.since_emptied_l() / 1000, units);
  if (!bin.known()) {
    if (bin.since_emptied_l() < 1) return "nobody has looked into it yet; little should be in it";
    return fmt::format(
        "nobody has looked into it yet; {} should have gone in since the first session "
        "that is remembered{}",
        since, bin.look_first() ? ": a glance tells more than any estimate" : "");
  }
  std::string line = fmt::format("{}; {}", fill_in_words(bin, units), bin.evidence());
  if (bin.since_emptied_l() >= 1 && bin.emptied_once()) {
    line += fmt::format("; {} should have gone in since it was emptied", since);
  }
  return line;
}

std::string height(double cm, Units units) {
  return units == Units::kMetric ? fmt::format("{:.0f} cm", cm)
                                 : fmt::format("{:.0f} in", cm / 2.54);
}

/// The end of the lift that decides, with all its multipliers.
std::string limit_text(const proto::LiftAnswer& lift, Units units) {
  const bool begins = lift.start().product() <= lift.end().product();
  const proto::LiftEnd& end = begins ? lift.start() : lift.end();
  return fmt::format(
      "limit {} = {} x {:.2f} reach x {:.2f} height x {:.2f} travel x {:.2f} twist x {:.2f} often "
      "x "
      "{:.2f} grip, where it is {} at {} (NIOSH 94-110)",
      say_mass(1000 * lift.limit_kg(), units), say_mass(1000 * lift.load_constant_kg(), units),
      end.horizontal(), end.vertical(), end.distance(), end.asymmetry(), end.frequency(),
      end.coupling(), begins ? "picked up" : "set down", height(end.hands_cm(), units));
}

std::string lift_text(const proto::BinOutlook& bin, Units units, int columns) {
  const proto::LiftAnswer& lift = bin.lift();
  std::string who = bin.people() > 1 ? people_in_words(bin.people()) : std::string("one person");
  if (lift.index() > bin.people()) who += ", some scooped out first";
  const std::string line = fmt::format("full it weighs about {}: {} (lifting index {:.1f}); {}",
                                       say_mass(1000 * bin.full_kg(), units), who, lift.index(),
                                       limit_text(lift, units));
  return paragraph("        lift  ", line, columns);
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
  out += paragraph("              ", belief_line(bin, units), columns);
  if (bin.known()) out += paragraph("        then  ", bin.forecast(), columns);
  if (bin.known() && bin.look_first()) {
    out += paragraph("        look  ",
                     "more should have fallen since than it holds: perhaps somebody emptied it "
                     "without a word, perhaps it is running over",
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
  for (const auto& entry : list) {
    const std::string said = line(entry);
    if (!said.empty()) out += paragraph("  - ", said, columns);
  }
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
  std::string out = paragraph(
      "", fmt::format("{}: the bins on {}, most pressing first", bins.shop(), bins.as_of()),
      columns);
  out += "\n";
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
