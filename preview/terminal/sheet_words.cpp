#include "preview/terminal/sheet_words.h"

#include <cmath>
#include <map>
#include <utility>

#include <fmt/format.h>

#include "core/duty/say.h"

namespace chipfall {
namespace {

using Sentences = std::vector<std::string>;

/// Broken after a full stop that a capital follows.
Sentences sentences_of(const std::string& text) {
  Sentences out;
  size_t from = 0;
  for (size_t at = text.find(". "); at != std::string::npos; at = text.find(". ", at + 1)) {
    const char next = at + 2 < text.size() ? text[at + 2] : ' ';
    if (next < 'A' || next > 'Z') continue;
    out.push_back(text.substr(from, at + 1 - from));
    from = at + 2;
  }
  if (from < text.size()) out.push_back(text.substr(from));
  return out;
}

struct Counts {
  std::map<std::string, int> sentences;
  std::map<std::pair<std::string, std::string>, int> pairs;
};

Counts count(const std::vector<Sentences>& cautions) {
  Counts counts;
  for (const Sentences& caution : cautions) {
    for (size_t i = 0; i < caution.size(); ++i) {
      ++counts.sentences[caution[i]];
      if (i > 0) ++counts.pairs[{caution[i - 1], caution[i]}];
    }
  }
  return counts;
}

/// Joins neighbours that never come apart: "If it does, ..." means nothing without what it follows.
/// False when there are none left.
bool join_neighbours(std::vector<Sentences>& cautions) {
  const Counts counts = count(cautions);
  bool joined = false;
  for (Sentences& caution : cautions) {
    Sentences out;
    for (size_t i = 0; i < caution.size(); ++i) {
      out.push_back(caution[i]);
      if (i + 1 == caution.size()) continue;
      const int together = counts.pairs.at({caution[i], caution[i + 1]});
      if (counts.sentences.at(caution[i]) != together ||
          counts.sentences.at(caution[i + 1]) != together) {
        continue;
      }
      out.back() += " " + caution[++i];
      joined = true;
    }
    caution = std::move(out);
  }
  return joined;
}

}  // namespace

std::string minutes_in_words(const proto::WindDown& answer) {
  const bool crew = answer.people() > 1 && answer.finish().minutes_median() > 0;
  const double median = crew ? answer.finish().minutes_median() : answer.minutes_median();
  const double p80 = crew ? answer.finish().minutes_p80() : answer.minutes_p80();
  if (!std::isfinite(median) || !std::isfinite(p80) || median <= 0) return {};
  return fmt::format(
      "About {} for {}; four evenings in five no more than {:.0f}.", say_minutes(median),
      crew ? fmt::format("the {} of you", answer.people()) : std::string("one person"),
      std::ceil(p80 - 1e-9));
}

std::string people_in_words(int people) {
  return people == 1 ? "1 person" : fmt::format("{} people", people);
}

std::string phase_heading(const std::string& phase) {
  static const std::map<std::string, std::string> kHeadings{
      {"safe", "First: safe and clear"},  {"high", "High up"},
      {"middle", "Machines and benches"}, {"floor", "Floors"},
      {"bins", "Bins and filters"},       {"last", "Before you leave"}};
  const auto found = kHeadings.find(phase);
  return found == kHeadings.end() ? "Also" : found->second;
}

std::string where_and_with(const proto::Duty& duty) {
  std::string out;
  const auto add = [&](const std::string& words) {
    if (words.empty() || duty.title().find(words) != std::string::npos) return;
    if (!out.empty()) out += ", ";
    out += words;
  };
  add(duty.place());
  add(duty.tool_name());
  if (duty.people() > 1) add(people_in_words(duty.people()));
  return out;
}

LetteredCautions letter_cautions(const proto::WindDown& answer) {
  constexpr size_t kLetters = 26;
  std::vector<Sentences> cautions;
  for (const proto::Duty& duty : answer.duties()) cautions.push_back(sentences_of(duty.caution()));
  while (join_neighbours(cautions)) {
  }
  const Counts counts = count(cautions);
  LetteredCautions out;
  std::map<std::string, char> letters;
  for (const Sentences& caution : cautions) {
    std::string see;
    std::string own;
    for (const std::string& words : caution) {
      if (counts.sentences.at(words) > 1 && !letters.contains(words) && letters.size() < kLetters) {
        letters[words] = static_cast<char>('a' + static_cast<int>(letters.size()));
        out.shared.push_back(words);
      }
      if (const auto letter = letters.find(words); letter != letters.end()) {
        see += std::string(see.empty() ? "" : ", ") + letter->second;
      } else {
        own += std::string(own.empty() ? "" : " ") + words;
      }
    }
    out.letters.push_back(see);
    out.own.push_back(own);
  }
  return out;
}

}  // namespace chipfall
