#pragma once

#include <cstdint>
#include <string>
#include <string_view>

/// What a shell needs of a language beside a table of sentences. A language is a BCP 47 tag;
/// letters of either case, `_` for `-`; what is not known counts as English does.
namespace chipfall {

/// The form that a count of things takes: zero, one, two, few, many, other. For whole numbers; some
/// 60 languages, others take `other` for all.
///
/// Source: Unicode CLDR 42, common/supplemental/plurals.xml (cardinals); UTS #35, part 3, "Language
/// Plural Rules". tests/published/language_test.cpp compares with ICU's.
std::string plural_category(std::string_view language, std::int64_t count);

/// By the script that the tag names, else by the one that the language is usually written in.
/// Source: CLDR 42, likely subtags and scripts' characterOrder; the same test.
bool is_right_to_left(std::string_view language);

/// Languages that nobody speaks, in which a shell sees what it has forgotten: en-XA, longer by a
/// third and accented, and ar-XB, from right to left.
bool is_pseudo_locale(std::string_view language);

/// A catalogue's text in a pseudo-locale; its arguments and `[...]` stay. Empty for other
/// languages.
///
/// en-XA: between « and », vowels doubled, letters accented. ar-XB: each stretch of words between
/// overrides (U+202E, U+202C), so that English letters run from right to left.
std::string pseudo_text(std::string_view english, std::string_view language);

/// A text set apart from what stands beside it, so that neither turns the other round: between
/// U+2068 and U+2069, without signs of direction of its own (UAX #9, 2.4.2 and 6.3).
std::string isolated(std::string_view text);

/// Whether letters that run from right to left are in it: the blocks U+0590 to U+08FF, U+FB1D to
/// U+FDFF, U+FE70 to U+FEFF and U+10800 to U+10FFF, U+1E800 to U+1EFFF (UAX #9's R and AL).
bool has_right_to_left(std::string_view text);

}  // namespace chipfall
