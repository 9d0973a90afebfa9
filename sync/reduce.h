#pragma once

#include <string>
#include <string_view>

#include "core/proto/sync.pb.h"

/// What a role is sent of others' entries.
///
/// Closers and coordinators are sent everything. A member's phone is sent the endings of duties by
/// others without who ended them, how long it took, and what the list had estimated; everything
/// else whole. The clock and the event time stay, since the views decide by them which ending
/// stands and when a bin was emptied. Such an entry says that it is reduced and is never passed on.
///
/// So the views of two devices are equal where their roles are; a member's differ from a closer's
/// in those fields only, and a member's phone learns minutes from its own duties alone.
/// A kind that this version does not know is sent whole to all: hubs are to be updated first.
namespace chipfall {

/// Closers and coordinators: their devices hold every entry whole.
bool holds_whole(proto::Role role);

/// Whether these bytes are an entry of which something was left out.
bool is_reduced(std::string_view bytes);

/// The bytes to send: `bytes` themselves where nothing is left out.
std::string reduced_for(proto::Role role, std::string_view bytes);

}  // namespace chipfall
