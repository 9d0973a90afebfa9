#include "core/shop/suggest.h"

#include <algorithm>
#include <cstdlib>
#include <span>
#include <utility>

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace chipfall {
namespace {

/// Longer words are not slips of the pen, and a hostile text may ask for a million distances.
constexpr size_t kLongestWord = 64;
constexpr int kMostSteps = 5;      ///< whatever the length
constexpr size_t kMostNamed = 12;  ///< choices that a message still names one by one

char small(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }
bool same(char a, char b) { return small(a) == small(b); }

}  // namespace

int edit_distance(std::string_view a, std::string_view b, int most) {
  const int rows = static_cast<int>(a.size());
  const int columns = static_cast<int>(b.size());
  const int far = most + 1;
  if (std::abs(rows - columns) > most) return far;
  // Three rows of the usual table, as swaps look two rows back. Cells farther than `most` from the
  // diagonal cannot be on a way short enough, and stay `far`.
  std::vector<int> before, last, row(b.size() + 1, far);
  for (int j = 0; j <= std::min(columns, most); ++j) row[j] = j;
  for (int i = 1; i <= rows; ++i) {
    before = std::exchange(last, std::exchange(row, std::move(before)));
    row.assign(b.size() + 1, far);
    if (i <= most) row[0] = i;
    for (int j = std::max(1, i - most); j <= std::min(columns, i + most); ++j) {
      const int change = same(a[i - 1], b[j - 1]) ? 0 : 1;
      row[j] = std::min({last[j] + 1, row[j - 1] + 1, last[j - 1] + change, far});
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
    const int steps = edit_distance(word, choice, kMostSteps);
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
