#pragma once

#include <algorithm>
#include <functional>
#include <random>
#include <span>
#include <string>
#include <string_view>

#include <doctest/doctest.h>

#include "core/door/phrases.h"
#include "core/shop/error.h"

/// Texts that were good until one edit, and what the reader must say about each.
namespace chipfall::test {

/// One edit of a good text and the mistake that it makes.
struct Broken {
  std::string_view find;     ///< stands once in the good text
  std::string_view replace;  ///< what stands there instead
  std::string_view at;       ///< stands once in the broken text, where the mistake is reported
  std::string_view path;
  std::string_view says;  ///< part of the message
};

inline size_t only_place_of(const std::string& text, std::string_view part) {
  const size_t found = text.find(part);
  REQUIRE_MESSAGE(found != std::string::npos, "not there: " << std::string(part));
  REQUIRE_MESSAGE(text.find(part, found + 1) == std::string::npos, "twice: " << std::string(part));
  return found;
}

inline std::string edited(std::string text, std::string_view find, std::string_view replace) {
  return text.replace(only_place_of(text, find), find.size(), replace);
}

/// The good text has no mistakes, and each row's has the one named: there, with that path and those
/// words. Others may follow from the same edit. `load` gives the mistakes of a text.
/// What the door may say of it has its phrase.
inline void check_broken(const std::string& good, std::span<const Broken> rows,
                         const std::function<Errors(const std::string&)>& load,
                         bool from_the_door = true) {
  CHECK(load(good).empty());
  for (const Broken& row : rows) {
    const std::string text = edited(good, row.find, row.replace);
    CAPTURE(std::string(row.replace));
    const size_t place = only_place_of(text, row.at);
    const auto line = std::count(text.begin(), text.begin() + static_cast<long>(place), '\n') + 1;
    const size_t line_start = place == 0 ? 0 : text.rfind('\n', place - 1) + 1;
    const Errors errors = load(text);
    std::string all;
    bool found = false;
    for (const Error& error : errors) {
      all += "\n  " + error.text();
      const bool translated = !from_the_door || !phrases_of(error.message).empty();
      CHECK_MESSAGE(translated, "no phrase: " << error.message);
      found |= error.place.line == line &&
               error.place.column == static_cast<int>(place - line_start) + 1 &&
               error.place.path == row.path && error.message.find(row.says) != std::string::npos;
    }
    CHECK_MESSAGE(found, "expected " << line << ":" << place - line_start + 1 << ": "
                                     << std::string(row.path) << ": " << std::string(row.says)
                                     << "; found" << all);
  }
}

/// The text cut short at every byte, and with up to eight bytes of 2000 changed at once, is taken
/// or refused: the sanitizers and the time limit see to the rest. Half of the texts stay in ASCII,
/// because any other byte is mostly refused at the door.
inline void check_robust(const std::string& good,
                         const std::function<Errors(const std::string&)>& load) {
  for (size_t end = 0; end < good.size(); ++end) {
    for (const Error& error : load(good.substr(0, end))) REQUIRE(!error.message.empty());
  }
  std::mt19937 random(20250101);
  std::string text = good;
  for (unsigned i = 0; i < 2000; ++i) {
    if (i % 8 == 0) text = good;
    const unsigned any = static_cast<unsigned>(random());
    text[random() % text.size()] = static_cast<char>(i % 16 < 8 ? ' ' + any % 95 : any);
    for (const Error& error : load(text)) REQUIRE(!error.message.empty());
  }
}

/// The mistakes of a result; none when it is good.
template <typename T>
Errors mistakes_of(const Result<T>& result) {
  return result ? Errors{} : result.error();
}

}  // namespace chipfall::test
