#pragma once

#include <string>
#include <string_view>
#include <vector>

/// What the writer of a wrong word may have meant.
namespace chipfall {

/// Least number of letters to add, drop, change or swap with their neighbour to turn one word
/// into the other, capitals counting as small letters; `most` + 1 when it is more than `most`.
/// Optimal string alignment distance, in time proportional to the length times `most`.
int edit_distance(std::string_view a, std::string_view b, int most);

/// The choice closest to `word`, the first of equals; empty when none is near enough to be a slip
/// (a third of the longer one's letters, but at least one) or `word` is too long to be one.
std::string closest(std::string_view word, const std::vector<std::string>& choices);

/// `; did you mean "top"?`, or nothing.
std::string did_you_mean(std::string_view word, const std::vector<std::string>& choices);

/// `one of a, b, c`; a long list is cut with how many there are, an empty one reads
/// `there are none`.
std::string one_of(const std::vector<std::string>& choices);

}  // namespace chipfall
