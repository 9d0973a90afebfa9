#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/proto/library.pb.h"
#include "core/shop/error.h"
#include "core/shop/suggest.h"
#include "core/shop/words.h"

/// The parts from which checks of a message are made: a spot in it, and the claims that most
/// fields share. Each claim that does not hold is noted at its spot; none stops the checking.
///
/// Nothing here needs descriptors, so a phone with the lite runtime can check too.
namespace chipfall {

/// A field path in the message being checked, and the list that collects mistakes.
class Spot {
 public:
  explicit Spot(Errors& errors) : errors_(&errors) {}

  /// The spot of a field: `room` -> `room.ceiling_m`.
  Spot operator[](std::string_view field) const;
  /// The spot of a list's entry: `zones[14]`, counted from 0.
  Spot entry(std::string_view list, int index) const;

  /// Notes what is wrong here and what would be right.
  void mistake(std::string message, ErrorCode code = ErrorCode::kMistake) const;

 private:
  Errors* errors_;
  std::string path_;
};

/// low <= value <= high, and a finite number. 0 where 0 is too little reads as "missing": proto3
/// does not tell the two apart.
bool check_range(const Spot& at, double value, double low, double high, std::string_view unit = "");

/// 0 < value <= most.
bool check_positive(const Spot& at, double value, double most, std::string_view unit = "");

/// The list is no longer than `most`. Callers stop at a longer one: checks that compare entries
/// with each other are only quick for lists within their limits.
bool check_length(const Spot& at, std::string_view list, int size, int most);

/// The text in quotes for a message, cut where it is too long to read.
std::string in_quotes(std::string_view text);

/// Each id is there, made of letters, digits, `-`, `_` and `.`, and the only one of its name.
void check_ids(const Spot& at, std::string_view list, const std::vector<std::string>& ids);
bool check_id(const Spot& at, const std::string& id);

/// The entries that a reference may name.
struct Known {
  std::string_view noun;  ///< "a gate", "a bin"
  std::vector<std::string> ids;

  bool has(std::string_view id) const;
};

/// The reference names one of the known entries.
bool check_reference(const Spot& at, const std::string& id, const Known& known);

/// Shares of mass, each 0 to 1; absent ones pass.
void check_shares(const Spot& at, const proto::PerClass& shares);

/// The figures of a message of per-class fields; nothing where absent.
std::array<std::optional<double>, kChipClasses> per_class(const proto::PerClass& figures);

/// Field name of a class in per-class messages.
std::string_view class_field(ChipClass chip_class);

template <typename List>
std::vector<std::string> ids_of(const List& list) {
  std::vector<std::string> ids;
  for (const auto& entry : list) ids.push_back(entry.id());
  return ids;
}

template <typename E>
std::vector<std::string> all_words() {
  std::vector<std::string> all;
  for (const Word<E>& word : vocabulary<E>().words) all.emplace_back(word.text);
  return all;
}

/// The text is one of the enum's words.
template <typename E>
std::optional<E> check_word(const Spot& at, const std::string& text) {
  const std::optional<E> value = parse<E>(text);
  if (value) return value;
  const std::vector<std::string> words = all_words<E>();
  const std::string noun(vocabulary<E>().noun);
  if (text.empty()) {
    at.mistake("missing: give the " + noun + ", " + one_of(words));
  } else {
    at.mistake(in_quotes(text) + " is not a " + noun + "; " + one_of(words) +
               did_you_mean(text, words));
  }
  return value;
}

/// As check_word, but the field may be left out.
template <typename E>
void check_word_if_any(const Spot& at, const std::string& text) {
  if (!text.empty()) check_word<E>(at, text);
}

}  // namespace chipfall
