#include "sync/hub_words.h"

namespace chipfall {

std::optional<proto::Role> role_of(const std::string& word) {
  if (word == "member") return proto::ROLE_MEMBER;
  if (word == "closer") return proto::ROLE_CLOSER;
  if (word == "coordinator") return proto::ROLE_COORDINATOR;
  return std::nullopt;
}

std::string role_word(proto::Role role) {
  switch (role) {
    case proto::ROLE_MEMBER:
      return "member";
    case proto::ROLE_CLOSER:
      return "closer";
    case proto::ROLE_COORDINATOR:
      return "coordinator";
    default:
      return "unknown";
  }
}

}  // namespace chipfall
