#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include <google/protobuf/message.h>
#include <google/protobuf/text_format.h>

#include "core/shop/error.h"
#include "core/shop/load.h"

namespace chipfall {

/// Finds the line and column of a field in the text from which its message was read.
///
/// Lines and columns count from 1. A column counts characters as an editor does: a tab is one, and
/// so is a letter of several bytes.
class Locator {
 public:
  Locator(const Text& text, const google::protobuf::Descriptor* type);

  /// The place of a path such as `zones[14].surface`: where the field's name stands. An entry of a
  /// scalar list in brackets has the place of its list, a field that the text leaves out that of
  /// the message around it, and the text's beginning when there is none.
  Place place(std::string_view path) const;

  /// The place of a token, and the path of the message around it; both from 0 and with the
  /// columns of protobuf's tokenizer, which counts bytes and widens tabs to eight.
  Place place_of_token(int line, int column) const;
  std::string path_around(int line, int column) const;

  /// The same for a token's end and the word that was read just before it.
  Place place_of_word_before(int line, int column, std::string_view word) const;

  google::protobuf::TextFormat::ParseInfoTree* tree() { return tree_.get(); }
  const google::protobuf::Descriptor* type() const { return type_; }

 private:
  size_t offset_of(int line, int column) const;
  Place place_of_offset(size_t offset) const;

  const Text* text_;  ///< outlives the locator
  const google::protobuf::Descriptor* type_;
  std::unique_ptr<google::protobuf::TextFormat::ParseInfoTree> tree_;
  std::vector<size_t> line_starts_;
};

}  // namespace chipfall
