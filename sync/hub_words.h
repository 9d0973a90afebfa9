#pragma once

#include <optional>
#include <string>

#include "core/proto/sync.pb.h"

/// The words by which people name a role to the hub, and the hub to them.
namespace chipfall {

std::optional<proto::Role> role_of(const std::string& word);
std::string role_word(proto::Role role);

}  // namespace chipfall
