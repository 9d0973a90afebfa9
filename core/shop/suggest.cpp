#include "core/shop/suggest.h"

#include <algorithm>
#include <cctype>
#include <span>
#include <utility>

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace chipfall {
namespace {

/// Longer words are not slips of the pen, and the distance costs the product of the lengths.
constexpr size_t kLongestWord = 64;
constexpr int kMostSteps = 5;      ///< whatever the length
constexpr size_t kMostNamed = 12;  ///< choices that a message still names one by one

bool same(char a, char b) {
  return std::tolower(static_cast<unsigned char>(a)) == std::tolower(static_cast<unsigned char>(b));
}

}  // namespace

int edit_distance(std::string_view a, std::string_view b) {
  // Three rows of the usual table: swaps look two rows back.
  std::vector<int> before(b.size() + 1), last(b.size() + 1), row(b.size() + 1);
  for (size_t j = 0; j <= b.size(); ++j) row[j] = static_cast<int>(j);
  for (size_t i = 1; i <= a.size(); ++i) {
    before = std::exchange(last, std::move(row));
    row.assign(b.size() + 1, static_cast<int>(i));
    for (size_t j = 1; j <= b.size(); ++j) {
      const int change = same(a[i - 1], b[j - 1]) ? 0 : 1;
      row[j] = std::min({last[j] + 1, row[j - 1] + 1, last[j - 1] + change});
      if (i > 1 && j > 1 && same(a[i - 1], b[j - 2]) && same(a[i - 2], b[j - 1])) {
        row[j] = std::min(row[j], before[j - 2] + 1);
      }
    }
  }
  return row[b.size()];
}

std::string closest(std::string_view word, const std::vector<std::string>& choices) {
  if (word.empty() || word.size() > kLongestWord) return {};
  std::string best;
  int least = kMostSteps + 1;
  for (const std::string& choice : choices) {
    if (choice.size() > kLongestWord) continue;
    const int longer = static_cast<int>(std::max(word.size(), choice.size()));
    const int steps = edit_distance(word, choice);
    // A word that shares no letter with the choice is another word, however short both are.
    if (steps < least && steps <= std::max(1, longer / 3) && steps < longer) {
      best = choice;
      least = steps;
    }
  }
  return best;
}

std::string did_you_mean(std::string_view word, const std::vector<std::string>& choices) {
  const std::string guess = closest(word, choices);
  return guess.empty() ? guess : fmt::format("; did you mean \"{}\"?", guess);
}

std::string one_of(const std::vector<std::string>& choices) {
  if (choices.empty()) return "there are none";
  if (choices.size() <= kMostNamed) return fmt::format("one of {}", fmt::join(choices, ", "));
  return fmt::format("one of {}, ... ({} in all)",
                     fmt::join(std::span(choices).first(kMostNamed), ", "), choices.size());
}

}  // namespace chipfall
