#pragma once

#include <map>
#include <string>

#include "core/proto/door.pb.h"

namespace chipfall {

/// Answers in another language: what the door says in phrases (core/door/phrases.h), put together
/// again from a table. The table is a pseudo-locale's from the door; a translation would be given
/// in its place.
class Retelling {
 public:
  Retelling() = default;
  explicit Retelling(const proto::Phrases& table);

  /// Every text for people in the answer and its mistakes. Ids, words that shells send back and
  /// what people wrote stay.
  void retell(proto::Response& response) const;

  /// One text, with what the response says of it; as it is where it is no phrase.
  std::string told(const proto::Response& response, const std::string& text) const;

  bool empty() const { return texts_.empty(); }

 private:
  std::map<std::string, std::string> texts_;
  bool right_to_left_ = false;
};

/// A template with its arguments; `[...]` stays where one of its arguments is given.
std::string filled(std::string text, const std::map<std::string, std::string>& arguments);

}  // namespace chipfall
