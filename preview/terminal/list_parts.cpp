#include "preview/terminal/list_parts.h"

#include <algorithm>
#include <cmath>
#include <set>
#include <vector>

#include <fmt/format.h>

#include "core/duty/say.h"

namespace chipfall {
namespace {

/// Words after a heading, broken at `columns`, continued below `indent` blanks.
std::string wrapped(const std::string& text, int indent, int columns) {
  std::string out;
  int at = indent;
  for (size_t from = 0; from < text.size();) {
    const size_t to = std::min(text.find(' ', from), text.size());
    // Continuation bytes of UTF-8 take no column.
    const auto width = static_cast<int>(std::count_if(text.begin() + static_cast<long>(from),
                                                      text.begin() + static_cast<long>(to),
                                                      [](char c) { return (c & 0xC0) != 0x80; }));
    if (at > indent && at + 1 + width > columns) {
      out += '\n';
      out.append(static_cast<size_t>(indent), ' ');
      at = indent;
    } else if (at > indent) {
      out += ' ';
      ++at;
    }
    out.append(text, from, to - from);
    at += width;
    from = to + 1;
  }
  return out;
}

/// "21:04", or "+2 min" from the beginning where nobody said when to leave.
std::string when_text(const proto::LaneStep& step) {
  if (!step.starts_at().empty()) return step.starts_at();
  return fmt::format("{:+.0f} min", std::floor(step.start_minute() + 1e-9));
}

/// One person's part: when, which duty, with whom, what to fetch.
std::string lane_text(const proto::Lane& lane, int columns) {
  std::string out = fmt::format("  {}\n", lane.person());
  for (const proto::LaneStep& step : lane.steps()) {
    std::string line = fmt::format("{}. {}", step.order(), step.title());
    if (step.with_size() > 0) {
      line += fmt::format(", with {}", join({step.with().begin(), step.with().end()}));
    }
    if (step.fetch()) line += fmt::format("; fetch the {}", step.tool_name());
    out += paragraph(fmt::format("    {:>7}  ", when_text(step)), line, columns);
  }
  if (lane.steps().empty()) out += "             lends a hand where it is wanted\n";
  if (!lane.home_at().empty() && !lane.steps().empty()) {
    out += fmt::format("    {:>7}  done\n", lane.home_at());
  }
  return out;
}

}  // namespace

std::string paragraph(const std::string& head, const std::string& text, int columns) {
  return fmt::format("{}{}\n", head, wrapped(text, static_cast<int>(head.size()), columns));
}

std::string caution_text(const std::string& caution, int order, SaidBefore& said) {
  std::string fresh;
  std::set<int> before;
  for (const std::string& sentence : sentences(caution)) {
    const auto [first, is_new] = said.emplace(sentence, order);
    if (is_new) fresh += (fresh.empty() ? "" : " ") + sentence;
    if (!is_new) before.insert(first->second);
  }
  if (before.empty()) return fresh;
  std::vector<std::string> orders;
  for (int earlier : before) orders.push_back(std::to_string(earlier));
  return fresh.empty() ? fmt::format("as at {}.", join(orders))
                       : fmt::format("{} And as at {}.", fresh, join(orders));
}

std::string lanes_text(const google::protobuf::RepeatedPtrField<proto::Lane>& lanes,
                       const proto::Finish& finish, const std::string& sharing, int columns) {
  if (lanes.size() < 2) return {};
  std::string out = "\nWho does what\n";
  for (const proto::Lane& lane : lanes) out += lane_text(lane, columns);
  if (!sharing.empty()) out += paragraph("  ", sharing, columns);
  if (finish.proven()) return out + "  No split of this work ends sooner.\n";
  const std::string least = fmt::format("No split of this work could end before {}.",
                                        say_minutes(finish.lower_bound_minutes()));
  return out + paragraph("  ", least, columns);
}

std::string passed_on_text(const std::string& heading,
                           const google::protobuf::RepeatedPtrField<proto::PassedOn>& passed_on,
                           int columns) {
  if (passed_on.empty()) return {};
  std::string out = fmt::format("\n{}\n", heading);
  for (const proto::PassedOn& passed : passed_on) {
    out += paragraph("  - ",
                     fmt::format("{} ({}): {}", passed.title(), say_half_minutes(passed.minutes()),
                                 passed.reason()),
                     columns);
  }
  return out;
}

std::string over_text(const std::string& what_stays, const proto::Finish& finish, int columns) {
  if (finish.over_minutes() <= 0) return {};
  return paragraph("  ",
                   fmt::format("{}, though it may take {} longer than there is.", what_stays,
                               say_minutes(finish.over_minutes())),
                   columns);
}

}  // namespace chipfall
