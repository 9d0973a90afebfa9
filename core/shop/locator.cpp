#include <algorithm>
#include <charconv>

#include <fmt/format.h>
#include <google/protobuf/descriptor.h>

#include "core/shop/locator.h"

namespace chipfall {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::FieldDescriptor;
using google::protobuf::TextFormat;
using Tree = TextFormat::ParseInfoTree;
using Location = TextFormat::ParseLocation;

constexpr int kTabWidth = 8;  ///< protobuf's tokenizer takes a tab as going on to the next eighth

bool starts_character(char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }

/// One step of a path: `zones[14]`; index -1 without brackets.
struct Step {
  std::string name;
  int index = -1;
};

Step take_step(std::string_view& path) {
  const size_t end = std::min(path.find('.'), path.size());
  const std::string_view text = path.substr(0, end);
  path.remove_prefix(std::min(end + 1, path.size()));
  const size_t open = text.find('[');
  if (open == std::string_view::npos) return {std::string(text), -1};
  Step step{std::string(text.substr(0, open)), -1};
  std::from_chars(text.data() + open + 1, text.data() + text.size(), step.index);
  return step;
}

/// Where the entry stands; a bracketed list is known to the tree by its first entry only.
Location location_of(const Tree& tree, const FieldDescriptor* field, int index) {
  const int asked = field->is_repeated() ? std::max(index, 0) : -1;
  const Location found = tree.GetLocation(field, asked);
  return found.line >= 0 || asked <= 0 ? found : tree.GetLocation(field, 0);
}

bool is_before(Location a, Location b) {
  return a.line != b.line ? a.line < b.line : a.column < b.column;
}

constexpr int kNoEntry = -2;
constexpr int kSingle = -1;  ///< as protobuf numbers a field that does not repeat

/// The last entry of a list that begins at or before the location. Entries stand in the tree in
/// the order of the text, so that doubling and halving find it without knowing their number.
int last_entry_before(const Tree& tree, const FieldDescriptor* field, Location at) {
  const auto begins_before = [&](int index) {
    const Location start = tree.GetLocation(field, index);
    return start.line >= 0 && !is_before(at, start);
  };
  if (!begins_before(0)) return kNoEntry;
  int low = 0;
  int high = 1;
  while (begins_before(high)) {
    low = high;
    high *= 2;
  }
  while (high - low > 1) {
    const int middle = low + (high - low) / 2;
    (begins_before(middle) ? low : high) = middle;
  }
  return low;
}

/// The entry of `field` whose text holds the location; kSingle for a field that does not repeat.
int entry_around(const Tree& tree, const FieldDescriptor* field, Location at) {
  const int entry = field->is_repeated() ? last_entry_before(tree, field, at) : kSingle;
  if (entry == kNoEntry) return kNoEntry;
  const auto range = tree.GetLocationRange(field, entry);
  const bool holds =
      range.start.line >= 0 && !is_before(at, range.start) && is_before(at, range.end);
  // In a list in brackets all entries share one range, and nobody can say which one it is.
  const bool bracketed = entry == 0 && tree.GetTreeForNested(field, 1) != nullptr &&
                         tree.GetLocation(field, 1).line < 0;
  return holds && !bracketed ? entry : kNoEntry;
}

}  // namespace

Locator::Locator(const Text& text, const Descriptor* type)
    : text_(&text), type_(type), tree_(std::make_unique<Tree>()), line_starts_{0} {
  for (size_t i = 0; i < text.content.size(); ++i) {
    if (text.content[i] == '\n') line_starts_.push_back(i + 1);
  }
}

Place Locator::place(std::string_view path) const {
  Place place{text_->name, 1, 1, std::string(path)};
  const Tree* tree = tree_.get();
  const Descriptor* type = type_;
  while (tree != nullptr && type != nullptr && !path.empty()) {
    const Step step = take_step(path);
    const FieldDescriptor* field = type->FindFieldByName(step.name);
    if (field == nullptr) break;
    const Location at = location_of(*tree, field, step.index);
    if (at.line < 0) break;
    const Place found = place_of_token(at.line, at.column);
    place.line = found.line;
    place.column = found.column;
    type = field->message_type();
    if (type != nullptr) {
      tree = tree->GetTreeForNested(field, field->is_repeated() ? std::max(step.index, 0) : -1);
    }
  }
  return place;
}

std::string Locator::path_around(int line, int column) const {
  std::string path;
  const Location at(line, column);
  const Tree* tree = tree_.get();
  const Descriptor* type = type_;
  while (tree != nullptr) {
    const Tree* inner = nullptr;
    for (int i = 0; i < type->field_count() && inner == nullptr; ++i) {
      const FieldDescriptor* field = type->field(i);
      if (field->message_type() == nullptr) continue;
      const int entry = entry_around(*tree, field, at);
      if (entry == kNoEntry) continue;
      inner = tree->GetTreeForNested(field, entry);
      path += path.empty() ? "" : ".";
      path += entry == kSingle ? field->name() : fmt::format("{}[{}]", field->name(), entry);
      type = field->message_type();
    }
    tree = inner;
  }
  return path;
}

size_t Locator::offset_of(int line, int column) const {
  const std::string& content = text_->content;
  if (line < 0 || line >= static_cast<int>(line_starts_.size())) return content.size();
  size_t offset = line_starts_[static_cast<size_t>(line)];
  for (int reached = 0; reached < column && offset < content.size(); ++offset) {
    reached += content[offset] == '\t' ? kTabWidth - reached % kTabWidth : 1;
  }
  return offset;
}

Place Locator::place_of_offset(size_t offset) const {
  const auto after = std::ranges::upper_bound(line_starts_, offset);
  const size_t start = *std::prev(after);
  const auto characters = std::ranges::count_if(
      std::string_view(text_->content).substr(start, offset - start), starts_character);
  return {text_->name, static_cast<int>(after - line_starts_.begin()),
          static_cast<int>(characters) + 1, ""};
}

Place Locator::place_of_token(int line, int column) const {
  return place_of_offset(offset_of(line, column));
}

Place Locator::place_of_word_before(int line, int column, std::string_view word) const {
  const size_t end = offset_of(line, column);
  const size_t found =
      end < word.size() ? std::string::npos : text_->content.rfind(word, end - word.size());
  return place_of_offset(found == std::string::npos ? end : found);
}

}  // namespace chipfall
