#include "preview/terminal/retelling.h"

#include <google/protobuf/descriptor.h>
#include <google/protobuf/message.h>

#include <algorithm>
#include <functional>
#include <set>
#include <vector>

#include "core/door/language.h"

namespace chipfall {
namespace {

constexpr int kMostDepth = 4;  ///< of phrases within phrases

using Tell = std::function<std::string(const std::string&)>;

/// What shells compare or send back, and what is somebody's own words.
bool is_for_programs(const google::protobuf::FieldDescriptor& field) {
  static const std::set<std::string, std::less<>> kNames{
      "id",     "word", "kind", "ending", "link", "role",    "code",   "path",
      "member", "zone", "bin",  "seen",   "file", "machine", "supply", "stock",
      "units",  "gate", "csv",  "duty",   "shop", "tool",    "host",   "time_zone"};
  return kNames.contains(field.name());
}

void retell_in(google::protobuf::Message& message, const Tell& tell) {
  const google::protobuf::Reflection& reflection = *message.GetReflection();
  std::vector<const google::protobuf::FieldDescriptor*> fields;
  reflection.ListFields(message, &fields);
  for (const google::protobuf::FieldDescriptor* field : fields) {
    using google::protobuf::FieldDescriptor;
    const int size = field->is_repeated() ? reflection.FieldSize(message, field) : 1;
    for (int i = 0; i < size; ++i) {
      if (field->cpp_type() == FieldDescriptor::CPPTYPE_MESSAGE) {
        retell_in(field->is_repeated() ? *reflection.MutableRepeatedMessage(&message, field, i)
                                       : *reflection.MutableMessage(&message, field),
                  tell);
      } else if (field->type() == FieldDescriptor::TYPE_STRING && !is_for_programs(*field)) {
        if (field->is_repeated()) {
          reflection.SetRepeatedString(&message, field, i,
                                       tell(reflection.GetRepeatedString(message, field, i)));
        } else {
          reflection.SetString(&message, field, tell(reflection.GetString(message, field)));
        }
      }
    }
  }
}

using Phrases = std::map<std::string, const proto::Said*>;

Phrases by_text(const proto::Response& response) {
  Phrases out;
  for (const proto::Said& said : response.said()) out[said.text()] = &said;
  return out;
}

class Telling {
 public:
  Telling(const std::map<std::string, std::string>& texts, bool right_to_left, Phrases said)
      : texts_(texts), right_to_left_(right_to_left), said_(std::move(said)) {}

  std::string told(const std::string& text, int depth = 0) const {
    const auto said = said_.find(text);
    if (said == said_.end() || depth > kMostDepth) return text;
    std::string out;
    for (const proto::Phrase& phrase : said->second->phrases()) {
      std::map<std::string, std::string> arguments;
      std::string id = phrase.id();
      for (const proto::PhraseArgument& argument : phrase.arguments()) {
        const std::string put = told(argument.text(), depth + 1);
        // Digits and units have no direction of their own to speak of, but they too take their
        // neighbours'.
        const bool apart = right_to_left_ || has_right_to_left(put);
        arguments[argument.name()] = apart ? isolated_whole(put) : put;
        const std::string form = id + "." + argument.name() + "." + argument.plural();
        if (!argument.plural().empty() && texts_.contains(form)) id = form;
      }
      const auto found = texts_.find(id);
      if (found == texts_.end()) return text;
      out += phrase.before() + filled(found->second, arguments);
    }
    return out;
  }

 private:
  /// Like `isolated`, for what was put together from parts that are isolated themselves.
  static std::string isolated_whole(const std::string& text) {
    const bool has_own =
        text.find("\u2068") != std::string::npos || text.find("\u202E") != std::string::npos;
    return has_own ? "\u2068" + text + "\u2069" : isolated(text);
  }

  const std::map<std::string, std::string>& texts_;
  bool right_to_left_;
  Phrases said_;
};

}  // namespace

std::string filled(std::string text, const std::map<std::string, std::string>& arguments) {
  for (std::size_t open; (open = text.find('[')) != std::string::npos;) {
    const std::size_t close = text.find(']', open);
    if (close == std::string::npos) break;
    const std::string group = text.substr(open + 1, close - open - 1);
    const bool given = std::ranges::any_of(arguments, [&](const auto& one) {
      return group.find("{" + one.first + "}") != std::string::npos;
    });
    text.replace(open, close - open + 1, given ? group : "");
  }
  std::string out;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t close = text[at] == '{' ? text.find('}', at) : std::string::npos;
    const auto one = close == std::string::npos
                         ? arguments.end()
                         : arguments.find(text.substr(at + 1, close - at - 1));
    if (one == arguments.end()) {
      out += text[at++];
    } else {
      out += one->second;
      at = close + 1;
    }
  }
  return out;
}

Retelling::Retelling(const proto::Phrases& table) : right_to_left_(table.right_to_left()) {
  for (const proto::PhraseText& phrase : table.phrases()) {
    texts_[phrase.id()] = phrase.text().empty() ? phrase.english() : phrase.text();
  }
}

void Retelling::retell(proto::Response& response) const {
  // What said of which phrases stays as it is, for the texts are looked up by it.
  google::protobuf::RepeatedPtrField<proto::Said> said;
  const Telling telling(texts_, right_to_left_, by_text(response));
  response.mutable_said()->Swap(&said);
  retell_in(response, [&](const std::string& text) { return telling.told(text); });
  response.mutable_said()->Swap(&said);
}

std::string Retelling::told(const proto::Response& response, const std::string& text) const {
  return Telling(texts_, right_to_left_, by_text(response)).told(text);
}

}  // namespace chipfall
