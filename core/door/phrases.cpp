#include "core/door/phrases.h"

#include <google/protobuf/io/coded_stream.h>

#include <algorithm>
#include <functional>
#include <map>
#include <set>

#include <fmt/format.h>

#include "core/door/entry_words.h"
#include "core/door/language.h"
#include "core/duty/say.h"
#include "core/shop/load.h"

namespace chipfall {
namespace {

constexpr std::size_t kLongestText = 600;  ///< no sentence of the core comes near it
constexpr int kMostDepth = 8;              ///< of messages in an answer
constexpr std::size_t kLongestDay = 21;    ///< "Wednesday 30 Sep 2026"
constexpr std::size_t kMostDigits = 15;    ///< of a count; more are no number of things
constexpr std::size_t kMostSaid = 4000;    ///< texts; a year's answers have hundreds

/// A text with arguments: literals[0] arguments[0] literals[1] ... literals[n].
struct Pattern {
  std::string id;
  std::vector<std::string> literals{""};
  std::vector<std::string> arguments;
};

/// Every way to leave out what may be absent, with it first.
void each_variant(const std::string& text, const std::function<void(const std::string&)>& take) {
  const std::size_t open = text.find('[');
  if (open == std::string::npos) return take(text);
  const std::size_t close = text.find(']', open);
  const std::string before = text.substr(0, open), after = text.substr(close + 1);
  each_variant(before + text.substr(open + 1, close - open - 1) + after, take);
  each_variant(before + after, take);
}

Pattern pattern_of(const std::string& id, const std::string& text) {
  Pattern pattern;
  pattern.id = id;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t close = text[at] == '{' ? text.find('}', at) : std::string::npos;
    if (close == std::string::npos) {
      pattern.literals.back() += text[at++];
    } else {
      pattern.arguments.push_back(text.substr(at + 1, close - at - 1));
      pattern.literals.emplace_back();
      at = close + 1;
    }
  }
  return pattern;
}

bool is_number(std::string_view text) {
  return !text.empty() && text.size() <= kMostDigits &&
         std::ranges::all_of(text, [](char c) { return c >= '0' && c <= '9'; });
}

/// The arguments with which `pattern`, from its n-th argument on, gives `text`; the shortest first.
/// `fits` says whether an argument of that name can be so.
template <typename Fits>
bool fill(const Pattern& pattern, std::size_t n, std::string_view text,
          std::vector<std::string_view>& arguments, const Fits& fits) {
  if (n == pattern.arguments.size()) return text.empty();
  const std::string& next = pattern.literals[n + 1];
  const bool last = n + 1 == pattern.arguments.size();
  if (last) {
    if (text.size() <= next.size() || !text.ends_with(next)) return false;
    arguments[n] = text.substr(0, text.size() - next.size());
    return fits(pattern.arguments[n], arguments[n]);
  }
  for (std::size_t at = text.find(next, 1); at != std::string_view::npos;
       at = text.find(next, at + 1)) {
    arguments[n] = text.substr(0, at);
    if (!fits(pattern.arguments[n], arguments[n])) continue;
    if (fill(pattern, n + 1, text.substr(at + next.size()), arguments, fits)) return true;
  }
  return false;
}

class Catalogue {
 public:
  Catalogue() {
    for (const auto& part : {history_catalogue(), core_catalogue(), mistake_catalogue()}) {
      for (const CatalogueEntry& entry : part) add(entry.id, entry.english);
    }
    add_library(builtin_library());
    // The most specific of the library first: "{zone}: dust" would swallow many.
    std::ranges::stable_sort(library_, std::greater(), [](const Pattern& pattern) {
      std::size_t size = 0;
      for (const std::string& literal : pattern.literals) size += literal.size();
      return size;
    });
    patterns_.insert(patterns_.end(), library_.begin(), library_.end());
  }

  std::optional<proto::Phrase> phrase(std::string_view text) const {
    const auto same = whole_.find(text);
    proto::Phrase phrase;
    if (same != whole_.end()) {
      phrase.set_id(same->second);
      return phrase;
    }
    const auto fits = [this](const std::string& name, std::string_view argument) {
      return can_be(name, argument);
    };
    for (const Pattern& pattern : patterns_) {
      if (!text.starts_with(pattern.literals[0])) continue;
      std::vector<std::string_view> arguments(pattern.arguments.size());
      if (!fill(pattern, 0, text.substr(pattern.literals[0].size()), arguments, fits)) continue;
      phrase.set_id(pattern.id);
      for (std::size_t i = 0; i < arguments.size(); ++i) {
        proto::PhraseArgument& argument = *phrase.add_arguments();
        argument.set_name(pattern.arguments[i]);
        argument.set_text(plain_line(arguments[i]));
      }
      return phrase;
    }
    return std::nullopt;
  }

  const proto::Phrases& all() const { return all_; }

 private:
  /// Only the patterns of dates are tried: a day within a day within a day would take for ever.
  bool is_date(std::string_view text) const {
    return text.size() <= kLongestDay && std::ranges::any_of(patterns_, [&](const Pattern& date) {
             if (!date.id.starts_with("date.")) return false;
             std::vector<std::string_view> arguments(date.arguments.size());
             return fill(date, 0, text, arguments, [this](const auto& name, auto argument) {
               return can_be(name, argument);
             });
           });
  }

  /// Whether an argument is what its name promises (phrases.h).
  bool can_be(const std::string& name, std::string_view argument) const {
    if (name == "weekday") {
      const auto day = whole_.find(argument);
      return day != whole_.end() && day->second.starts_with("day.");
    }
    if (name == "when") return can_be("weekday", argument) || is_date(argument);
    if (name == "date" || name == "year") return is_number(argument);
    if (name != "clock") return true;
    if (argument.ends_with(" UTC")) argument.remove_suffix(4);
    return argument.size() == 5 && argument[2] == ':' && is_number(argument.substr(0, 2)) &&
           is_number(argument.substr(3));
  }

  void add(const std::string& id, const std::string& text, bool library = false) {
    proto::PhraseText& listed = *all_.add_phrases();
    listed.set_id(id);
    listed.set_english(text);
    each_variant(text, [&](const std::string& variant) {
      Pattern pattern = pattern_of(id, variant);
      if (pattern.arguments.empty()) {
        whole_.emplace(variant, id);
      } else {
        (library ? library_ : patterns_).push_back(std::move(pattern));
      }
    });
  }

  /// Sentence by sentence, since cautions of several duties are strung together, each once.
  void add_sentences_of(const std::string& id, const std::string& text) {
    const std::vector<std::string> parts = sentences(text);
    for (std::size_t i = 0; i < parts.size(); ++i) {
      if (!known_.insert(parts[i]).second) continue;
      add(parts.size() == 1 ? id : fmt::format("{}.{}", id, i + 1), parts[i], true);
    }
  }

  void add_library(const Library& library) {
    for (const StandardDuty& duty : library.duties) {
      add_sentences_of(fmt::format("duty.{}.title", duty.id), duty.title);
      add_sentences_of(fmt::format("duty.{}.why", duty.id), duty.why);
      add_sentences_of(fmt::format("duty.{}.caution", duty.id), duty.caution);
      add_sentences_of(fmt::format("duty.{}.if-not", duty.id), duty.if_not);
    }
    for (const MachineKind& kind : library.machine_kinds) {
      add_sentences_of(fmt::format("machine.{}.name", kind.id), kind.name);
      add_sentences_of(fmt::format("machine.{}.caution", kind.id), kind.caution);
    }
    for (const Stock& stock : library.stocks) {
      add_sentences_of(fmt::format("stock.{}.name", stock.id), stock.name);
      if (stock.health.empty()) continue;
      add(fmt::format("stock.{}.health", stock.id), "{stock}: " + stock.health, true);
    }
  }

  std::map<std::string, std::string, std::less<>> whole_;
  std::vector<Pattern> patterns_, library_;
  std::set<std::string> known_;
  proto::Phrases all_;
};

const Catalogue& the_catalogue() {
  static const Catalogue all;
  return all;
}

/// A line for people: UTF-8 without control characters. What is a message itself hardly ever is.
bool is_line(std::string_view bytes) {
  int following = 0;
  for (const char c : bytes) {
    const auto byte = static_cast<unsigned char>(c);
    const bool follows = (byte & 0xC0) == 0x80;
    if (follows != (following > 0)) return false;
    if (follows) {
      --following;
    } else if (byte >= 0xC0) {
      following = byte >= 0xF8 ? -1 : byte >= 0xF0 ? 3 : byte >= 0xE0 ? 2 : 1;
      if (following < 0) return false;
    } else if (byte < 0x20 || byte == 0x7F) {
      return false;
    }
  }
  return following == 0;
}

/// Every text in the message, as far as bytes can tell: a reader without descriptions of messages,
/// such as a phone has.
void collect(std::string_view bytes, int depth, std::set<std::string>& texts) {
  using google::protobuf::io::CodedInputStream;
  CodedInputStream in(reinterpret_cast<const std::uint8_t*>(bytes.data()),
                      static_cast<int>(bytes.size()));
  std::vector<std::string> parts;
  for (std::uint32_t tag = 0; (tag = in.ReadTag()) != 0;) {
    std::uint64_t number = 0;
    std::uint32_t small = 0;
    std::string part;
    switch (tag & 7) {
      case 0:
        if (!in.ReadVarint64(&number)) return;
        break;
      case 1:
        if (!in.ReadLittleEndian64(&number)) return;
        break;
      case 2:
        if (!in.ReadVarint32(&small) || small > bytes.size()) return;
        if (!in.ReadString(&part, static_cast<int>(small))) return;
        parts.push_back(std::move(part));
        break;
      case 5:
        if (!in.ReadLittleEndian32(&small)) return;
        break;
      default:
        return;
    }
  }
  if (in.CurrentPosition() != static_cast<int>(bytes.size())) return;
  for (std::string& part : parts) {
    if (depth < kMostDepth) collect(part, depth + 1, texts);
    if (part.size() > kLongestText || texts.size() == kMostSaid) continue;
    if (is_line(part)) texts.insert(std::move(part));
  }
}

}  // namespace

std::vector<proto::Phrase> phrases_of(std::string_view text) {
  if (text.size() < 3 || text.size() > kLongestText) return {};
  std::vector<proto::Phrase> found;
  if (auto whole = the_catalogue().phrase(text)) {
    found.push_back(*std::move(whole));
    return found;
  }
  const std::vector<std::string> parts = sentences(std::string(text));
  if (parts.size() < 2) return {};
  for (const std::string& part : parts) {
    auto phrase = the_catalogue().phrase(part);
    if (!phrase) return {};
    if (!found.empty()) phrase->set_before(" ");
    found.push_back(*std::move(phrase));
  }
  return found;
}

std::vector<proto::Said> said_in(std::string_view serialized, std::string_view language) {
  std::set<std::string> texts;
  collect(serialized, 0, texts);
  std::map<std::string, proto::Said> said;
  std::vector<std::string> open(texts.begin(), texts.end());
  while (!open.empty() && said.size() < kMostSaid) {
    const std::string text = std::move(open.back());
    open.pop_back();
    if (said.contains(text)) continue;
    std::vector<proto::Phrase> phrases = phrases_of(text);
    if (phrases.empty()) continue;
    proto::Said& put = said[text];
    put.set_text(text);
    for (proto::Phrase& phrase : phrases) {
      for (proto::PhraseArgument& argument : *phrase.mutable_arguments()) {
        open.push_back(argument.text());
        if (language.empty() || !is_number(argument.text())) continue;
        argument.set_plural(plural_category(language, std::stoll(argument.text())));
      }
      *put.add_phrases() = std::move(phrase);
    }
  }
  std::vector<proto::Said> out;
  for (auto& [text, one] : said) out.push_back(std::move(one));
  return out;
}

proto::Phrases catalogue(std::string_view language) {
  proto::Phrases all = the_catalogue().all();
  all.set_right_to_left(is_right_to_left(language));
  if (!is_pseudo_locale(language)) return all;
  for (proto::PhraseText& phrase : *all.mutable_phrases()) {
    phrase.set_text(pseudo_text(phrase.english(), language));
  }
  return all;
}

}  // namespace chipfall
