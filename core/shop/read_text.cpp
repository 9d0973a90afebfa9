#include "core/shop/read_text.h"

#include <algorithm>
#include <array>

#include <fmt/format.h>
#include <google/protobuf/descriptor.h>
#include <google/protobuf/io/tokenizer.h>
#include <boost/locale/utf.hpp>

#include "core/shop/locator.h"
#include "core/shop/mistakes.h"

namespace chipfall {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::FieldDescriptor;
using google::protobuf::Message;
using google::protobuf::TextFormat;

/// A message of protobuf's parser as its author meant it, and as a person can use it.
///
/// `{0}` and `{1}` stand for what it quotes, `{got}` for what it found. Some messages come only
/// when the parser has passed the word that they are about: `passed` is its number among the
/// quoted ones.
struct Rewording {
  std::string_view phrase;
  std::string_view text;
  int passed = -1;
};

constexpr std::array kRewordings{
    Rewording{"is specified multiple times", "\"{0}\" is given twice; keep one", 0},
    Rewording{"is specified along with", "\"{0}\" cannot stand beside \"{1}\"; keep one", 0},
    Rewording{"Invalid value for boolean", "\"{0}\" is true or false, not \"{1}\"", 1},
    Rewording{"Expected identifier", "the name of a field or a closing }} belongs here{got}"},
    Rewording{"Expected string", "a text in \"quotes\" belongs here{got}"},
    Rewording{"Expected integer", "a whole number belongs here{got}"},
    Rewording{"Expected double", "a number belongs here{got}"},
    Rewording{"Expect a decimal number", "a plain decimal number belongs here{got}"},
    Rewording{"Integer out of range", "the number is too large"},
    Rewording{"Message is too deep", "braces are nested too deep"},
    Rewording{"Cannot skip field value", "a value belongs here{got}"},
    Rewording{"cross line boundaries", "the text in quotes must end on the line where it began"},
    Rewording{"end of string", "the text in quotes is never closed"},
    Rewording{"escape s", "after \\ in a text, only n, t, \", ' and \\ are of use"},
    Rewording{"Invalid control char", "a character that is not text stands here; delete it"},
    Rewording{"non ascii", "this character can only stand inside straight \"quotes\""},
    Rewording{"leading zero", "a number must not begin with 0"},
    Rewording{"Need space", "a space is missing after the number"},
    Rewording{"must be followed by", "this number is not complete"},
    Rewording{"Already saw", "a number has only one decimal point"},
    Rewording{"Expected \"", "\"{0}\" belongs here{got}"},
};

/// The parts of a message that it puts in quotes, two at most.
std::array<std::string, 2> quoted_parts(std::string_view message) {
  std::array<std::string, 2> parts;
  for (std::string& part : parts) {
    const size_t open = message.find('"');
    if (open == std::string_view::npos) break;
    const size_t shut = std::min(message.find('"', open + 1), message.size());
    part = message.substr(open + 1, shut - open - 1);
    message.remove_prefix(std::min(shut + 1, message.size()));
  }
  return parts;
}

/// `, not "x"` for a message that ends in what it found; the text may end there as well.
std::string what_it_got(std::string_view message) {
  for (std::string_view mark : {"got: ", "token: ", "found \""}) {
    const size_t at = message.find(mark);
    if (at == std::string_view::npos) continue;
    std::string_view got = message.substr(at + mark.size());
    if (mark.back() == '"') got = got.substr(0, got.rfind('"'));
    return got.empty() ? ", but the text ends" : ", not " + in_quotes(got);
  }
  return {};
}

std::vector<std::string> fields_of(const Descriptor& type) {
  std::vector<std::string> names;
  for (int i = 0; i < type.field_count(); ++i) names.push_back(type.field(i)->name());
  return names;
}

/// Gathers what the parser has to say, reworded and located.
class Listener : public google::protobuf::io::ErrorCollector {
 public:
  explicit Listener(const Locator& locator) : locator_(locator) {}

  void AddError(int line, int column, const std::string& message) override {
    // After the first one the parser has lost its way; what it says next is about its confusion.
    if (stopped_) return;
    stopped_ = true;
    const auto parts = quoted_parts(message);
    for (const Rewording& rewording : kRewordings) {
      if (message.find(rewording.phrase) == std::string::npos) continue;
      const std::string text = fmt::format(fmt::runtime(rewording.text), parts[0], parts[1],
                                           fmt::arg("got", what_it_got(message)));
      const Place place = rewording.passed < 0
                              ? locator_.place_of_token(line, column)
                              : locator_.place_of_word_before(
                                    line, column, parts[static_cast<size_t>(rewording.passed)]);
      errors_.push_back({ErrorCode::kUnreadable, text, place});
      return;
    }
    errors_.push_back({ErrorCode::kUnreadable, message, locator_.place_of_token(line, column)});
  }

  /// Of a text without extensions and deprecated fields, only unknown fields are warned about.
  void AddWarning(int line, int column, const std::string& message) override {
    if (stopped_ || errors_.size() > kMostMistakes) return;  // one over shows that there are more
    const auto [first, second] = quoted_parts(message);
    const bool extension = second.empty() || message.starts_with("Ignoring extension");
    const std::string& name = extension ? first : second;
    const Descriptor* type = locator_.type()->file()->pool()->FindMessageTypeByName(
        extension ? std::string(locator_.type()->full_name()) : first);
    std::string text = fmt::format("no such field as {}", in_quotes(name));
    if (type != nullptr) {
      const std::vector<std::string> fields = fields_of(*type);
      const std::string guess = did_you_mean(name, fields);
      text = fmt::format("{} has no field {}{}", type->name(), in_quotes(name),
                         guess.empty() ? "; " + one_of(fields) : guess);
    }
    errors_.push_back(
        {ErrorCode::kMistake, text, locator_.place_of_word_before(line, column, name)});
    tokens_.emplace_back(line, column);
    names_.push_back(name);
  }

  /// What was gathered. Paths can only be told now: a message's place is known at its end.
  Errors take() {
    for (size_t i = 0; i < tokens_.size(); ++i) {
      std::string path = locator_.path_around(tokens_[i].first, tokens_[i].second);
      errors_[i].place.path = path.empty() ? names_[i] : path + "." + names_[i];
    }
    return std::move(errors_);
  }

 private:
  const Locator& locator_;
  bool stopped_ = false;
  Errors errors_;  ///< warnings first, then at most one error
  std::vector<std::pair<int, int>> tokens_;
  std::vector<std::string> names_;
};

/// Offset of the first character that a sheet cannot hold, or npos: broken UTF-8, or a control
/// character other than white space.
size_t first_unfit(std::string_view text) {
  namespace utf = boost::locale::utf;
  const char* at = text.data();
  const char* const end = at + text.size();
  while (at != end) {
    const char* const start = at;
    const utf::code_point c = utf::utf_traits<char>::decode(at, end);
    const bool blank = c == '\t' || c == '\n' || c == '\r';
    if (!utf::is_valid_codepoint(c) || (c < 0x20 && !blank) || c == 0x7F) {
      return static_cast<size_t>(start - text.data());
    }
  }
  return std::string_view::npos;
}

/// Escapes such as \000 and \377 can put into a text what the file itself may not hold.
void check_strings(const Message& message, const Spot& at) {
  const auto* reflection = message.GetReflection();
  std::vector<const FieldDescriptor*> fields;
  reflection->ListFields(message, &fields);
  for (const FieldDescriptor* field : fields) {
    const bool listed = field->is_repeated();
    const int size = listed ? reflection->FieldSize(message, field) : 1;
    for (int i = 0; i < size; ++i) {
      if (field->cpp_type() == FieldDescriptor::CPPTYPE_MESSAGE) {
        check_strings(listed ? reflection->GetRepeatedMessage(message, field, i)
                             : reflection->GetMessage(message, field),
                      listed ? at.entry(field->name(), i) : at[field->name()]);
      } else if (field->cpp_type() == FieldDescriptor::CPPTYPE_STRING) {
        const std::string text = listed ? reflection->GetRepeatedString(message, field, i)
                                        : reflection->GetString(message, field);
        if (first_unfit(text) == std::string_view::npos) continue;
        (listed ? at.entry(field->name(), i) : at[field->name()])
            .mistake("an escape in this text stands for no letter; write the letter itself");
      }
    }
  }
}

/// Some editors begin a file with a byte order mark. Blanks in its stead keep every place.
std::string without_mark(std::string content) {
  constexpr std::string_view kMark = "\xEF\xBB\xBF";
  if (content.starts_with(kMark)) content.replace(0, kMark.size(), kMark.size(), ' ');
  return content;
}

/// Why the bytes are no text at all; nothing where they may be.
std::optional<Error> why_unreadable(const Text& text) {
  const std::string& content = text.content;
  if (content.size() > kMostSheetBytes) {
    return Error{
        ErrorCode::kOutOfBounds,
        fmt::format("{} bytes are too many; at most {} are read", content.size(), kMostSheetBytes),
        {text.name, 0, 0, ""}};
  }
  if (content.find_first_not_of(" \t\r\n") == std::string::npos) {
    return Error{ErrorCode::kUnreadable, "the text is empty", {text.name, 1, 1, ""}};
  }
  const size_t unfit = first_unfit(content);
  if (unfit == std::string::npos) return std::nullopt;
  const std::string_view before = std::string_view(content).substr(0, unfit);
  const size_t line_start = before.rfind('\n') + 1;  // npos + 1 is 0
  const auto column = std::ranges::count_if(before.substr(line_start), [](char c) {
    return (static_cast<unsigned char>(c) & 0xC0) != 0x80;
  });
  return Error{ErrorCode::kUnreadable,
               "a byte here is not text; save the file as plain text in UTF-8",
               {text.name, static_cast<int>(std::ranges::count(before, '\n')) + 1,
                static_cast<int>(column) + 1, ""}};
}

}  // namespace

Reading read_text(const Text& text, google::protobuf::MessageLite& lite) {
  auto& message = static_cast<Message&>(lite);  // every one is, in a build that has this file
  const auto locator = std::make_shared<Locator>(text, message.GetDescriptor());
  Reading reading{false, {}, [locator](std::string_view path) { return locator->place(path); }};
  if (const std::optional<Error> error = why_unreadable(text)) {
    reading.errors.push_back(*error);
    return reading;
  }
  Listener listener(*locator);
  TextFormat::Parser parser;
  parser.RecordErrorsTo(&listener);
  parser.WriteLocationsTo(locator->tree());
  parser.AllowUnknownField(true);
  parser.SetRecursionLimit(kDeepestNesting);
  reading.complete = parser.ParseFromString(without_mark(text.content), &message);
  reading.errors = listener.take();
  if (!reading.complete) {
    if (reading.errors.empty()) {
      reading.errors.push_back({ErrorCode::kUnreadable, "cannot be read", {text.name, 1, 1, ""}});
    }
    return reading;
  }
  Errors unfit;
  check_strings(message, Spot(unfit));
  for (Error& error : unfit) {
    error.place = reading.place(error.place.path);
    reading.errors.push_back(std::move(error));
  }
  return reading;
}

}  // namespace chipfall
