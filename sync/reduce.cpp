#include "sync/reduce.h"

namespace chipfall {

bool holds_whole(proto::Role role) {
  return role == proto::ROLE_CLOSER || role == proto::ROLE_COORDINATOR;
}

bool is_reduced(std::string_view bytes) {
  proto::Entry entry;
  return entry.ParseFromArray(bytes.data(), static_cast<int>(bytes.size())) && entry.reduced();
}

}  // namespace chipfall
