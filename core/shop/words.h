#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "core/shop/shop.h"

/// The one table of the words that sheets use for the enums of shop.h.
///
/// Words are matched exactly: a sheet is read by many people, and one spelling is enough.
namespace chipfall {

template <typename E>
struct Word {
  E value;
  std::string_view text;
};

/// All words for one enum, and what people call such a word ("surface").
template <typename E>
struct Vocabulary {
  std::string_view noun;
  std::span<const Word<E>> words;
};

/// Defined in words.cpp for ZoneKind, Surface, Clutter, ToolKind, CollectorKind, BinKind, Family,
/// Grip, Units, Phase, When, DutyKind and PlaceKind.
template <typename E>
const Vocabulary<E>& vocabulary();

/// The value of a word; nothing for a word that is not in the table.
template <typename E>
std::optional<E> parse(std::string_view text) {
  for (const Word<E>& word : vocabulary<E>().words) {
    if (word.text == text) return word.value;
  }
  return std::nullopt;
}

/// The word for a value.
template <typename E>
std::string_view word(E value) {
  for (const Word<E>& word : vocabulary<E>().words) {
    if (word.value == value) return word.text;
  }
  return {};
}

}  // namespace chipfall
