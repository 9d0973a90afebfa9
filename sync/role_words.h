#pragma once

#include <optional>
#include <string_view>

#include "core/proto/sync.pb.h"

/// The words by which people name a role, to the hub and on their device.
namespace chipfall {

std::optional<proto::Role> role_of(std::string_view word);
std::string_view role_word(proto::Role role);  ///< empty: none, or of a newer version

}  // namespace chipfall
