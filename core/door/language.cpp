#include "core/door/language.h"

#include <array>

#include "core/door/entry_words.h"

namespace chipfall {
namespace {

/// Languages of one rule, each between blanks.
struct PluralRule {
  std::string_view languages;
  const char* (*category)(std::int64_t n);
};

bool within(std::int64_t n, std::int64_t low, std::int64_t high) { return n >= low && n <= high; }

const char* none(std::int64_t) { return "other"; }
const char* one(std::int64_t n) { return n == 1 ? "one" : "other"; }
const char* one_with_0(std::int64_t n) { return n <= 1 ? "one" : "other"; }
const char* many_millions(std::int64_t n) {
  return n == 1 ? "one" : n != 0 && n % 1'000'000 == 0 ? "many" : "other";
}
const char* many_millions_with_0(std::int64_t n) { return n == 0 ? "one" : many_millions(n); }
const char* two(std::int64_t n) { return n == 1 ? "one" : n == 2 ? "two" : "other"; }
const char* ends_in_1(std::int64_t n) { return n % 10 == 1 && n % 100 != 11 ? "one" : "other"; }

/// Where 2 to 4 at the end make few, but not 12 to 14.
const char* few_endings(std::int64_t n) {
  if (n % 10 == 1 && n % 100 != 11) return "one";
  return within(n % 10, 2, 4) && !within(n % 100, 12, 14) ? "few" : "other";
}
const char* few_endings_else_many(std::int64_t n) {
  const std::string_view category = few_endings(n);
  return category == "other" ? "many" : category.data();
}
const char* polish(std::int64_t n) {
  if (n == 1) return "one";
  return std::string_view(few_endings(n)) == "few" ? "few" : "many";
}
const char* czech(std::int64_t n) { return n == 1 ? "one" : within(n, 2, 4) ? "few" : "other"; }
const char* slovene(std::int64_t n) {
  const std::int64_t end = n % 100;
  return end == 1 ? "one" : end == 2 ? "two" : within(end, 3, 4) ? "few" : "other";
}
const char* lithuanian(std::int64_t n) {
  if (within(n % 100, 11, 19) || n % 10 == 0) return "other";
  return n % 10 == 1 ? "one" : "few";
}
const char* latvian(std::int64_t n) {
  if (n % 10 == 0 || within(n % 100, 11, 19)) return "zero";
  return n % 10 == 1 ? "one" : "other";
}
const char* romanian(std::int64_t n) {
  if (n == 1) return "one";
  return n == 0 || within(n % 100, 1, 19) ? "few" : "other";
}
const char* arabic(std::int64_t n) {
  if (n <= 2) return n == 0 ? "zero" : n == 1 ? "one" : "two";
  return within(n % 100, 3, 10) ? "few" : within(n % 100, 11, 99) ? "many" : "other";
}
const char* irish(std::int64_t n) {
  if (n == 1 || n == 2) return n == 1 ? "one" : "two";
  return within(n, 3, 6) ? "few" : within(n, 7, 10) ? "many" : "other";
}
const char* welsh(std::int64_t n) {
  constexpr std::array<const char*, 7> kForms{"zero",  "one",   "two", "few",
                                              "other", "other", "many"};
  return n <= 6 ? kForms[static_cast<std::size_t>(n)] : "other";
}

constexpr PluralRule kRules[] = {
    {" id ja km ko lo ms my th vi yue zh ", none},
    {" af bg da de el en et eu fi fy gl hu ka kk ky mn nb ne nl nn no sq sv sw ta te tr ug ur "
     "uz yi az ckb dv ku ps sd ",
     one},
    {" am as bn fa gu hi hy kn zu pa ", one_with_0},
    {" ca es it ", many_millions},
    {" fr pt ", many_millions_with_0},
    {" he iw ", two},
    {" is mk ", ends_in_1},
    {" bs hr sr ", few_endings},
    {" be ru uk ", few_endings_else_many},
    {" pl ", polish},
    {" cs sk ", czech},
    {" sl ", slovene},
    {" lt ", lithuanian},
    {" lv ", latvian},
    {" mo ro ", romanian},
    {" ar ", arabic},
    {" ga ", irish},
    {" cy ", welsh},
};

/// The next part of a tag, in lower case; the tag loses it.
std::string next_part(std::string_view& tag) {
  std::string part;
  while (!tag.empty() && tag.front() != '-' && tag.front() != '_') {
    const char c = tag.front();
    part += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    tag.remove_prefix(1);
  }
  if (!tag.empty()) tag.remove_prefix(1);
  return part;
}

bool is_among(std::string_view words, const std::string& word) {
  return !word.empty() && words.find(" " + word + " ") != std::string_view::npos;
}

std::int32_t code_point(std::string_view text, std::size_t& at) {
  const auto byte = [&](std::size_t i) {
    return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U;
  };
  const unsigned first = byte(at);
  const std::size_t more = first >= 0xF0 ? 3 : first >= 0xE0 ? 2 : first >= 0xC0 ? 1 : 0;
  unsigned point = more == 0 ? first : first & (0x3FU >> more);
  for (std::size_t i = 1; i <= more; ++i) point = point << 6U | (byte(at + i) & 0x3FU);
  at += more + 1;
  return static_cast<std::int32_t>(point);
}

/// Letters of Latin-1 and Latin Extended-A, which most fonts have; b, f, m, q, v, x stay.
std::string accented(char c) {
  constexpr std::string_view kFrom = "aeiouyAEIOUYcdghjklnrstwzCDGHJKLNRSTWZ";
  constexpr std::array<std::string_view, 38> kTo{
      "áá", "éé", "íí", "óó", "úú", "ýý", "ÁÁ", "ÉÉ", "ÍÍ", "ÓÓ", "ÚÚ", "ÝÝ", "ç",
      "ð",  "ĝ",  "ĥ",  "ĵ",  "ķ",  "ļ",  "ñ",  "ŕ",  "š",  "ţ",  "ŵ",  "ž",  "Ç",
      "Ð",  "Ĝ",  "Ĥ",  "Ĵ",  "Ķ",  "Ļ",  "Ñ",  "Ŕ",  "Š",  "Ţ",  "Ŵ",  "Ž"};
  const std::size_t at = kFrom.find(c);
  return at == std::string_view::npos ? std::string(1, c) : std::string(kTo[at]);
}

}  // namespace

std::string plural_category(std::string_view language, std::int64_t count) {
  std::string_view rest = language;
  const std::string name = next_part(rest);
  if (name == "pt" && next_part(rest) == "pt") return many_millions(count);
  for (const PluralRule& rule : kRules) {
    if (is_among(rule.languages, name)) return rule.category(count);
  }
  return "other";
}

bool is_right_to_left(std::string_view language) {
  const std::string name = next_part(language);
  const std::string second = next_part(language);
  if (second.size() == 4) {
    return is_among(" adlm arab aran hebr mand mend nkoo rohg samr syrc thaa ", second);
  }
  return is_among(" ar arc azb ckb dv fa he iw ks lrc mzn nqo pnb ps sd syr ug ur yi ", name);
}

bool is_pseudo_locale(std::string_view language) {
  return language == "en-XA" || language == "ar-XB";
}

std::string pseudo_text(std::string_view english, std::string_view language) {
  if (!is_pseudo_locale(language)) return {};
  const bool turned = language == "ar-XB";
  constexpr std::string_view kOverride = "\u202E", kEnd = "\u202C";
  std::string out = turned ? "" : "«";
  bool argument = false, open = false;
  const auto turn = [&](bool on) {
    if (!turned || open == on) return;
    out += on ? kOverride : kEnd;
    open = on;
  };
  for (const char c : english) {
    if (c == '{') argument = true;
    // An override must not reach over what may be absent, or over an argument.
    turn(!argument && c != '[' && c != ']');
    out += argument || turned ? std::string(1, c) : accented(c);
    if (c == '}') argument = false;
  }
  turn(false);
  return turned ? out : out + "»";
}

std::string isolated(std::string_view text) { return "\u2068" + plain_line(text) + "\u2069"; }

bool has_right_to_left(std::string_view text) {
  for (std::size_t at = 0; at < text.size();) {
    const std::int32_t point = code_point(text, at);
    if ((point >= 0x0590 && point <= 0x08FF) || (point >= 0xFB1D && point <= 0xFDFF) ||
        (point >= 0xFE70 && point <= 0xFEFF) || (point >= 0x10800 && point <= 0x10FFF) ||
        (point >= 0x1E800 && point <= 0x1EFFF)) {
      return true;
    }
  }
  return false;
}

}  // namespace chipfall
