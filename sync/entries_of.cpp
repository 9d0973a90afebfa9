#include <bit>

#include "sync/batch.h"
#include "sync/columns.h"
#include "sync/squeeze.h"

namespace chipfall {

namespace {

using columns::Step;
using Column = columns::Column<wire::Reader>;
using Node = columns::Node<wire::Reader>;

/// Reads entries from columns. Each step takes at least one byte of some column, so the work is
/// bounded by their size; what is put together is bounded by `budget_`.
class Decoder {
 public:
  /// Whether the sizes fit.
  bool open(std::string_view bytes, std::size_t& entries) {
    wire::Reader reader(bytes);
    const auto count = reader.varint();
    const auto wide = reader.varint();
    if (!count || *count > kMostBatchEntries) return false;
    if (!wide || *wide < kFixedColumns || *wide > columns::kMostColumns) return false;
    entries = static_cast<std::size_t>(*count);
    std::vector<std::uint64_t> sizes;
    for (std::uint64_t i = 0; i < *wide; ++i) {
      const auto size = reader.varint();
      if (!size) return false;
      sizes.push_back(*size);
    }
    for (const std::uint64_t size : sizes) {
      const auto column = reader.bytes(size);
      if (!column) return false;
      columns_.emplace_back(*column);
    }
    if (!reader.done()) return false;
    kinds_ = new_column();
    whole_ = new_column();
    sizes_ = new_column();
    text_ = new_column();
    root_.shape = &columns::entry_shape();
    root_.lists = new_column();
    return true;
  }

  std::optional<std::string> next() {
    const auto kind = kinds_->varint();
    std::string entry;
    if (!kind || *kind > 1) return {};
    if (*kind == 1) {
      std::string_view name;
      if (!read_message(root_, entry, name)) return {};
    } else {
      const auto size = sizes_->varint();
      const auto bytes = size ? whole_->bytes(*size) : std::nullopt;
      if (!bytes || !append(entry, *bytes)) return {};
    }
    if (entry.size() > left_) return {};
    left_ -= entry.size();
    return entry;
  }

  /// Every byte was needed: nothing can hide between the columns.
  bool done() const {
    for (const wire::Reader& column : columns_) {
      if (!column.done()) return false;
    }
    return used_ == columns_.size();
  }

 private:
  static constexpr std::uint64_t kFixedColumns = 5;

  wire::Reader* new_column() { return used_ < columns_.size() ? &columns_[used_++] : nullptr; }

  bool append(std::string& out, std::string_view bytes) const {
    if (bytes.size() > left_ || out.size() > left_ - bytes.size()) return false;
    out += bytes;
    return true;
  }

  bool read_message(Node& node, std::string& out, std::string_view& name) {
    const auto place = read_list(node);
    if (!place) return false;
    for (std::size_t i = 0; i < node.known[*place].size(); ++i) {
      const std::uint64_t token = node.known[*place][i];
      const std::uint64_t tag = token / 2;
      const columns::Field* field = node.shape->find(static_cast<std::uint32_t>(tag >> 3));
      wire::put_varint(out, tag);
      std::string_view value;
      const bool message = (tag & 7) == wire::kBytes && field && field->message && token % 2 == 0;
      const bool read = message ? read_inner(node, token, *field->message, out, value)
                                : read_leaf(node, token, field, out, name, value);
      if (!read || out.size() > left_) return false;
      if (tag >> 3 == 1) name = value;
    }
    return true;
  }

  std::optional<std::size_t> read_list(Node& node) {
    const auto known = node.lists->varint();
    if (!known || *known > node.known.size()) return {};
    if (*known > 0) return static_cast<std::size_t>(*known - 1);
    std::vector<std::uint64_t> list;
    while (true) {
      const auto token = node.lists->varint();
      if (!token) return {};
      if (*token == columns::kEndOfList) break;
      if (*token / 2 < 8 || *token / 2 > 0xffffffff) return {};
      list.push_back(*token);
    }
    node.known.push_back(std::move(list));
    return node.known.size() - 1;
  }

  bool read_inner(Node& parent, std::uint64_t token, const columns::Shape& shape, std::string& out,
                  std::string_view& name) {
    const auto [found, is_new] = parent.nodes.try_emplace(token);
    if (is_new) {
      found->second.shape = &shape;
      found->second.lists = new_column();
      if (!found->second.lists) return false;
    }
    std::string inner;
    if (!read_message(found->second, inner, name)) return false;
    wire::put_varint(out, inner.size());
    return append(out, inner);
  }

  bool read_leaf(Node& node, std::uint64_t token, const columns::Field* field, std::string& out,
                 std::string_view name, std::string_view& value) {
    const std::uint64_t kind = (token / 2) & 7;
    const auto [found, is_new] = node.columns.try_emplace(token);
    Column& column = found->second;
    if (is_new) {
      column.tokens = new_column();
      if (kind == wire::kFixed64) column.raw = new_column();
      if (!column.tokens || (kind == wire::kFixed64 && !column.raw)) return false;
      const int shared = field ? field->words : 0;
      column.words = shared > 0 ? &words_[static_cast<std::size_t>(shared)] : &column.own_words;
    }
    switch (kind) {
      case wire::kVarint:
        return read_number(column, field ? field->step : Step::kPlain, name, out);
      case wire::kFixed64:
        return read_figure(column, name, out);
      case wire::kFixed32: {
        const auto bytes = column.tokens->bytes(4);
        return bytes && append(out, *bytes);
      }
      case wire::kBytes:
        return read_word(column, name, value) &&
               (wire::put_varint(out, value.size()), append(out, value));
      default:
        return false;
    }
  }

  bool read_number(Column& column, Step step, std::string_view name, std::string& out) {
    const auto token = column.tokens->varint();
    if (!token) return false;
    if (step == Step::kPlain) {
      wire::put_varint(out, *token);
      return true;
    }
    const std::uint64_t value = columns::base_of(column, step, name, clock_) +
                                static_cast<std::uint64_t>(wire::unzigzag(*token));
    column.last = value;
    if (step == Step::kFromName) column.last_by_name[name] = value;
    if (step == Step::kClock) clock_ = value;
    wire::put_varint(out, value);
    return true;
  }

  bool read_figure(Column& column, std::string_view name, std::string& out) {
    const auto token = column.tokens->varint();
    if (!token) return false;
    std::uint64_t bits = 0;
    const std::uint64_t how = *token & 7;
    if (how == columns::kExpectedFigure) {
      const auto found = column.last_by_name.find(name);
      if (found == column.last_by_name.end()) return false;
      bits = found->second;
    } else if (how == columns::kRawFigure) {
      const auto bytes = column.raw->bytes(8);
      if (!bytes) return false;
      for (const char byte : *bytes) bits = bits << 8 | static_cast<unsigned char>(byte);
    } else if (how < columns::kDivisors.size()) {
      const auto numerator = static_cast<double>(wire::unzigzag(*token >> 3));
      bits = std::bit_cast<std::uint64_t>(numerator / columns::kDivisors[how]);
    } else {
      return false;
    }
    column.last_by_name[name] = bits;
    for (int byte = 0; byte < 8; ++byte) out += static_cast<char>(bits >> (8 * byte));
    return true;
  }

  bool read_word(Column& column, std::string_view name, std::string_view& word) {
    const auto token = column.tokens->varint();
    if (!token) return false;
    if (*token == columns::kExpectedWord) {
      const auto found = column.expected.find(name);
      if (found == column.expected.end()) return false;
      word = found->second;
      return true;
    }
    if (*token == columns::kNewWord) {
      const auto size = sizes_->varint();
      const auto bytes = size ? text_->bytes(*size) : std::nullopt;
      if (!bytes) return false;
      word = *bytes;
      column.words->learn(word);
    } else {
      if (*token - columns::kFirstWord >= column.words->known.size()) return false;
      word = column.words->known[static_cast<std::size_t>(*token - columns::kFirstWord)];
    }
    column.expected[name] = word;
    return true;
  }

  std::vector<wire::Reader> columns_;
  std::size_t used_ = 0;
  wire::Reader* kinds_ = nullptr;
  wire::Reader* whole_ = nullptr;
  wire::Reader* sizes_ = nullptr;
  wire::Reader* text_ = nullptr;
  Node root_;
  std::array<columns::Words, 4> words_;
  std::uint64_t clock_ = 0;
  std::size_t left_ = kMostBatchBytes;
};

}  // namespace

std::optional<std::vector<std::string>> entries_of(std::string_view columns) {
  Decoder decoder;
  std::size_t count = 0;
  if (!decoder.open(columns, count)) return {};
  std::vector<std::string> entries;
  for (std::size_t i = 0; i < count; ++i) {
    auto entry = decoder.next();
    if (!entry) return {};
    entries.push_back(std::move(*entry));
  }
  if (!decoder.done()) return {};
  return entries;
}

}  // namespace chipfall
