#include "sync/role_words.h"

namespace chipfall {

std::optional<proto::Role> role_of(std::string_view word) {
  for (const proto::Role role : {proto::ROLE_MEMBER, proto::ROLE_CLOSER, proto::ROLE_COORDINATOR}) {
    if (word == role_word(role)) return role;
  }
  return std::nullopt;
}

std::string_view role_word(proto::Role role) {
  switch (role) {
    case proto::ROLE_MEMBER:
      return "member";
    case proto::ROLE_CLOSER:
      return "closer";
    case proto::ROLE_COORDINATOR:
      return "coordinator";
    default:
      return "";
  }
}

}  // namespace chipfall
