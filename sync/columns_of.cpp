#include <bit>
#include <cmath>
#include <deque>

#include "sync/batch.h"
#include "sync/columns.h"
#include "sync/squeeze.h"
#include "sync/take_apart.h"

namespace chipfall {

namespace {

using columns::Step;
using Column = columns::Column<std::string>;
using Node = columns::Node<std::string>;

/// Writes entries into columns. Columns are numbered as they are first needed, in the order in
/// which the decoder will need them.
class Encoder {
 public:
  Encoder()
      : kinds_(new_column()), whole_(new_column()), sizes_(new_column()), text_(new_column()) {
    root_.shape = &columns::entry_shape();
    root_.lists = new_column();
  }

  void add(std::string_view entry) {
    auto parts = columns::take_apart(entry, *root_.shape);
    *kinds_ += parts ? '\1' : '\0';
    if (parts) {
      add_message(root_, *parts);
    } else {
      wire::put_varint(*sizes_, entry.size());
      *whole_ += entry;
    }
  }

  bool too_wide() const { return columns_.size() > columns::kMostColumns; }

  std::string finish(std::size_t entries) const {
    std::string out;
    wire::put_varint(out, entries);
    wire::put_varint(out, columns_.size());
    for (const std::string& column : columns_) wire::put_varint(out, column.size());
    for (const std::string& column : columns_) out += column;
    return out;
  }

 private:
  std::string* new_column() { return &columns_.emplace_back(); }

  /// Writes the message; its name is that of field 1, or of the message in field 1.
  std::string_view add_message(Node& node, const std::vector<columns::Part>& parts) {
    add_list(node, parts);
    std::string_view name;
    for (const columns::Part& part : parts) {
      const bool message = part.message.has_value();
      const std::uint64_t token =
          columns::token_of(part.tag, part.field && part.field->message && !message);
      std::string_view value;
      if (message) {
        value = add_message(node_at(node, token, *part.field->message), *part.message);
      } else {
        value = add_leaf(column_at(node, token, part), part, name);
      }
      if (part.tag >> 3 == 1) name = value;
    }
    return name;
  }

  void add_list(Node& node, const std::vector<columns::Part>& parts) {
    std::vector<std::uint64_t> list;
    for (const columns::Part& part : parts) {
      list.push_back(
          columns::token_of(part.tag, part.field && part.field->message && !part.message));
    }
    const auto [found, is_new] = node.index.emplace(list, node.index.size() + 1);
    wire::put_varint(*node.lists, is_new ? 0 : found->second);
    if (!is_new) return;
    for (const std::uint64_t token : list) wire::put_varint(*node.lists, token);
    wire::put_varint(*node.lists, columns::kEndOfList);
  }

  Node& node_at(Node& parent, std::uint64_t token, const columns::Shape& shape) {
    const auto [found, is_new] = parent.nodes.try_emplace(token);
    if (is_new) {
      found->second.shape = &shape;
      found->second.lists = new_column();
    }
    return found->second;
  }

  Column& column_at(Node& node, std::uint64_t token, const columns::Part& part) {
    const auto [found, is_new] = node.columns.try_emplace(token);
    Column& column = found->second;
    if (is_new) {
      column.tokens = new_column();
      if ((part.tag & 7) == wire::kFixed64) column.raw = new_column();
      const int shared = part.field ? part.field->words : 0;
      column.words = shared > 0 ? &words_[static_cast<std::size_t>(shared)] : &column.own_words;
    }
    return column;
  }

  /// The bytes of a byte field, as a name for what follows.
  std::string_view add_leaf(Column& column, const columns::Part& part, std::string_view name) {
    switch (part.tag & 7) {
      case wire::kVarint:
        add_number(column, part, name);
        return {};
      case wire::kFixed64:
        add_figure(column, part.number, name);
        return {};
      case wire::kFixed32:
        *column.tokens += part.bytes;
        return {};
      default:
        add_word(column, part.bytes, name);
        return part.bytes;
    }
  }

  void add_number(Column& column, const columns::Part& part, std::string_view name) {
    const Step step = part.field ? part.field->step : Step::kPlain;
    if (step == Step::kPlain) {
      wire::put_varint(*column.tokens, part.number);
      return;
    }
    const std::uint64_t base = columns::base_of(column, step, name, clock_);
    wire::put_varint(*column.tokens, wire::zigzag(static_cast<std::int64_t>(part.number - base)));
    column.last = part.number;
    if (step == Step::kFromName) column.last_by_name[name] = part.number;
    if (step == Step::kClock) clock_ = part.number;
  }

  void add_figure(Column& column, std::uint64_t bits, std::string_view name) {
    const auto expected = column.last_by_name.find(name);
    if (expected != column.last_by_name.end() && expected->second == bits) {
      wire::put_varint(*column.tokens, columns::kExpectedFigure);
      return;
    }
    column.last_by_name[name] = bits;
    const double value = std::bit_cast<double>(bits);
    for (std::uint64_t i = 0; i < columns::kDivisors.size(); ++i) {
      const double scaled = std::round(value * columns::kDivisors[i]);
      if (!(std::abs(scaled) < 1e12)) break;
      const auto numerator = static_cast<std::int64_t>(scaled);  // which has no -0
      const double again = static_cast<double>(numerator) / columns::kDivisors[i];
      if (std::bit_cast<std::uint64_t>(again) != bits) continue;
      wire::put_varint(*column.tokens, wire::zigzag(numerator) << 3 | i);
      return;
    }
    wire::put_varint(*column.tokens, columns::kRawFigure);
    for (int byte = 7; byte >= 0; --byte) *column.raw += static_cast<char>(bits >> (8 * byte));
  }

  void add_word(Column& column, std::string_view word, std::string_view name) {
    const auto expected = column.expected.find(name);
    if (expected != column.expected.end() && expected->second == word) {
      wire::put_varint(*column.tokens, columns::kExpectedWord);
      return;
    }
    column.expected[name] = word;
    const auto known = column.words->index.find(word);
    if (known != column.words->index.end()) {
      wire::put_varint(*column.tokens, columns::kFirstWord + known->second);
      return;
    }
    column.words->learn(word);
    wire::put_varint(*column.tokens, columns::kNewWord);
    wire::put_varint(*sizes_, word.size());
    *text_ += word;
  }

  std::deque<std::string> columns_;  // a deque, since they are pointed to
  std::string* kinds_;
  std::string* whole_;
  std::string* sizes_;
  std::string* text_;
  Node root_;
  std::array<columns::Words, 4> words_;
  std::uint64_t clock_ = 0;
};

}  // namespace

std::string columns_of(std::span<const std::string> entries) {
  Encoder encoder;
  for (const std::string& entry : entries) encoder.add(entry);
  const std::string columns = encoder.finish(entries.size());
  if (!encoder.too_wide() && columns.size() <= kMostColumnBytes) return columns;
  // Something made to be awkward: as it is.
  std::string whole, sizes;
  for (const std::string& entry : entries) {
    wire::put_varint(sizes, entry.size());
    whole += entry;
  }
  std::string out;
  wire::put_varint(out, entries.size());
  wire::put_varint(out, 5);
  for (const std::size_t size :
       {entries.size(), whole.size(), sizes.size(), std::size_t(0), std::size_t(0)}) {
    wire::put_varint(out, size);
  }
  return out + std::string(entries.size(), '\0') + whole + sizes;
}

}  // namespace chipfall
