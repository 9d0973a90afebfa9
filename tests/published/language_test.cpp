// Plural categories and directions beside ICU 72, which has those of Unicode CLDR 42. Left out
// where ICU is not there.
#if __has_include(<unicode/plurrule.h>)
#include <unicode/plurrule.h>
#include <unicode/ubidi.h>
#include <unicode/uloc.h>

#include <doctest/doctest.h>

#include <algorithm>
#include <memory>
#include <vector>

#include "core/door/language.h"

using namespace chipfall;

namespace {

constexpr const char* kLanguages[] = {
    "af", "am", "ar", "as", "az", "be", "bg", "bn", "bs", "ca",  "ckb", "cs", "cy",   "da",
    "de", "dv", "el", "en", "es", "et", "eu", "fa", "fi", "fr",  "fy",  "ga", "gl",   "gu",
    "he", "hi", "hr", "hu", "hy", "id", "is", "it", "ja", "ka",  "kk",  "km", "kn",   "ko",
    "ku", "ky", "lo", "lt", "lv", "mk", "mn", "ms", "my", "nb",  "ne",  "nl", "nn",   "no",
    "pa", "pl", "ps", "pt", "ro", "ru", "sd", "sk", "sl", "sq",  "sr",  "sv", "sw",   "ta",
    "te", "th", "tr", "ug", "uk", "ur", "uz", "vi", "yi", "yue", "zh",  "zu", "pt-PT"};

/// What stands on the screen from left to right.
std::u16string shown(const std::string& text, bool right_to_left) {
  const icu::UnicodeString whole = icu::UnicodeString::fromUTF8(text);
  UErrorCode failed = U_ZERO_ERROR;
  UBiDi* bidi = ubidi_open();
  ubidi_setPara(bidi, whole.getBuffer(), whole.length(), right_to_left ? 1 : 0, nullptr, &failed);
  std::vector<UChar> out(static_cast<std::size_t>(whole.length()) + 1);
  const int size = ubidi_writeReordered(bidi, out.data(), static_cast<int>(out.size()),
                                        UBIDI_REMOVE_BIDI_CONTROLS, &failed);
  ubidi_close(bidi);
  REQUIRE(U_SUCCESS(failed));
  return std::u16string(out.data(), static_cast<std::size_t>(size));
}

}  // namespace

TEST_CASE("plural categories of whole numbers are those of CLDR") {
  for (const char* language : kLanguages) {
    UErrorCode failed = U_ZERO_ERROR;
    const icu::Locale locale = icu::Locale::forLanguageTag(language, failed);
    const std::unique_ptr<icu::PluralRules> rules(icu::PluralRules::forLocale(locale, failed));
    REQUIRE(U_SUCCESS(failed));
    for (const int from : {0, 1'000'000, 3'000'000}) {
      for (int n = from; n <= from + 1200; ++n) {
        std::string theirs;
        rules->select(n).toUTF8String(theirs);
        CHECK_MESSAGE(plural_category(language, n) == theirs, language << " " << n);
      }
    }
  }
  CHECK(plural_category("PL", 3) == "few");
  CHECK(plural_category("en_US", 1) == "one");
  CHECK(plural_category("xx", 1) == "other");
}

TEST_CASE("directions of languages are those of CLDR") {
  for (const char* language : kLanguages) {
    CHECK_MESSAGE(is_right_to_left(language) == (uloc_isRightToLeft(language) != 0), language);
  }
  for (const char* language : {"az-Arab", "pa-Arab-PK", "ku-Latn", "en-US", "he-IL", "uz_Arab",
                               "sr-Latn", "ar-XB", "en-XA"}) {
    CHECK_MESSAGE(is_right_to_left(language) == (uloc_isRightToLeft(language) != 0), language);
  }
}

TEST_CASE("a name that runs from right to left turns nothing beside it once it is isolated") {
  const std::string name = "\u05DE\u05E1\u05D5\u05E8";  // "saw" in Hebrew
  std::u16string turned = u"\u05DE\u05E1\u05D5\u05E8";
  std::ranges::reverse(turned);
  const auto sentence = [](const std::string& put) { return "Old saw, " + put + ", 3 (12 g)"; };
  const auto wanted = u"Old saw, " + turned + u", 3 (12 g)";
  CHECK(shown(sentence(name), false) != wanted);
  CHECK(shown(sentence(isolated(name)), false) == wanted);
  // A name with signs of direction of its own breaks out of nothing.
  CHECK(
      shown(sentence(isolated("\u202E" + name + "\u2069\u202E")), false).ends_with(u", 3 (12 g)"));
  CHECK(has_right_to_left("a " + name));
  CHECK_FALSE(has_right_to_left("Säge \u2014 \u0394 12 g/m\u00b2"));
}

TEST_CASE(
    "in the turned pseudo-locale English letters stand from right to left, arguments do not") {
  const std::string text = pseudo_text("{zone}: Vac", "ar-XB");
  CHECK(text == "{zone}\u202E: Vac\u202C");
  const std::string put = isolated("Bench 2") + text.substr(6);
  CHECK(shown(put, true) == u"caV :Bench 2");
}
#endif
