#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/proto/door.pb.h"

/// The core's own sentences by id and arguments, so that a shell can say them in another language.
///
/// Answers are in English, as the core says them. Beside them, where a shell asks for it, stand the
/// phrases that they are made of: "4.1 kg fell here from Old saw; ..." is `zone.why` with fallen
/// "4.1 kg" and machines "Old saw". What is no phrase (names of the sheet, words of people,
/// sentences that are not in the catalogue) is shown as it is. So a shell needs a table of ids and
/// nothing else, and a sentence that nobody has translated is English and not missing.
///
/// In a catalogue's text `{name}` is an argument and `[...]` may be absent, with the arguments in
/// it. The texts of checklists/ are in the catalogue by themselves. Some names of arguments say
/// what may stand there: `weekday` a day of the week, `date` and `year` digits, `when` a day or a
/// date, `clock` HH:MM.
///
/// What a shell needs beside the table (core/door/language.h): the form of a sentence for an
/// argument that is a whole number, by the plural categories of CLDR; and, between sentences that
/// run from left to right and names that run from right to left or the other way, isolates
/// (UAX #9): U+2068 before an argument, U+2069 after it. Arguments have no signs of direction.
namespace chipfall {

struct CatalogueEntry {
  const char* id;
  const char* english;
};

/// The core's own, specific ones before general ones. See phrase_catalogue.cpp.
std::span<const CatalogueEntry> core_catalogue();

/// History's lines, days and times; before the others, since they hold titles. And what can be
/// wrong. See phrase_catalogue_sheet.cpp.
std::span<const CatalogueEntry> history_catalogue();
std::span<const CatalogueEntry> mistake_catalogue();

/// The parts of a text in their order, each with what stands before it; empty where any part of it
/// is no phrase.
std::vector<proto::Phrase> phrases_of(std::string_view text);

/// For every text in a serialized message, and every argument of its phrases, that is made of
/// phrases: each once, sorted. Arguments that are whole numbers have their plural category in
/// `language`; empty: none has.
std::vector<proto::Said> said_in(std::string_view serialized, std::string_view language = "");

/// The whole catalogue; for a pseudo-locale with its texts (core/door/language.h).
proto::Phrases catalogue(std::string_view language = "");

}  // namespace chipfall
