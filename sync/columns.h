#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sync/wire.h"

/// What both directions of the batch codec share: which fields are messages and how their figures
/// follow from each other, and what a column has seen so far. None of it decides about content: a
/// field without a line here travels all the same, only in more bytes.
namespace chipfall::columns {

/// How a number is written.
enum class Step : std::uint8_t {
  kPlain,      ///< as it is
  kFromLast,   ///< beside the one before it in its column
  kFromName,   ///< beside the last one under the same name (field 1 of its message)
  kFromClock,  ///< beside the wall part of the entry's clock
  kClock,      ///< kFromLast, and is that clock
};

struct Shape;

/// What is known of one field of a message.
struct Field {
  std::uint32_t number = 0;
  const Shape* message = nullptr;  ///< null: a leaf
  Step step = Step::kPlain;
  int words = 0;  ///< fields of one number share their table of strings; 0: a table of its own
};

/// What is known of one message.
struct Shape {
  std::array<Field, 24> fields;
  const Field* find(std::uint32_t number) const;
};

/// Of proto::Entry.
const Shape& entry_shape();

/// At most so many columns in one batch: a batch of everything that exists today has under 200.
constexpr std::size_t kMostColumns = 1'000;

/// Strings that were met, in the order of their first time.
struct Words {
  std::vector<std::string_view> known;
  std::map<std::string_view, std::size_t> index;

  void learn(std::string_view word);
};

/// Tokens of byte columns.
constexpr std::uint64_t kNewWord = 0;
constexpr std::uint64_t kExpectedWord = 1;  ///< the last one under the same name
constexpr std::uint64_t kFirstWord = 2;     ///< plus its place in the table

/// Low three bits of the tokens of 64-bit columns; the rest is zigzag of the numerator. Minutes and
/// shares are mostly short decimals or whole seconds.
constexpr std::array<double, 5> kDivisors = {1, 10, 100, 1000, 60};
constexpr std::uint64_t kExpectedFigure = 6;
constexpr std::uint64_t kRawFigure = 7;

/// What one field has shown so far. `Bytes` is where its tokens go to or come from: a string when
/// encoding, a wire::Reader when decoding.
template <typename Bytes>
struct Column {
  Bytes* tokens = nullptr;
  Bytes* raw = nullptr;  ///< of 64-bit fields: what no token says
  std::uint64_t last = 0;
  std::map<std::string_view, std::uint64_t> last_by_name;
  Words* words = nullptr;
  Words own_words;
  std::map<std::string_view, std::string_view> expected;
};

/// One message at one place in the entry, with a column for each of its fields.
template <typename Bytes>
struct Node {
  const Shape* shape = nullptr;
  Bytes* lists = nullptr;  ///< which fields follow each other: a place in `known`, or a new list
  std::vector<std::vector<std::uint64_t>> known;
  std::map<std::vector<std::uint64_t>, std::size_t> index;
  std::map<std::uint64_t, Column<Bytes>> columns;  ///< by token
  std::map<std::uint64_t, Node> nodes;             ///< by token
};

/// A list of fields ends with 0; each is its tag twice, plus 1 for a message that is written as
/// bytes since it could not be taken apart.
constexpr std::uint64_t kEndOfList = 0;
constexpr std::uint64_t token_of(std::uint64_t tag, bool as_bytes) {
  return tag * 2 + (as_bytes ? 1 : 0);
}

/// How a number stands to what came before; the same sums in both directions, modulo 2^64.
template <typename Bytes>
std::uint64_t base_of(const Column<Bytes>& column, Step step, std::string_view name,
                      std::uint64_t clock) {
  switch (step) {
    case Step::kPlain:
      return 0;
    case Step::kFromLast:
    case Step::kClock:
      return column.last;
    case Step::kFromName: {
      const auto found = column.last_by_name.find(name);
      return found == column.last_by_name.end() ? 0 : found->second;
    }
    case Step::kFromClock:
      return clock;
  }
  return 0;
}

}  // namespace chipfall::columns
