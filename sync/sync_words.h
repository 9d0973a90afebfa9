#pragma once

#include <string>
#include <string_view>

#include "core/proto/door.pb.h"
#include "sync/device_machine.h"

/// Syncing in the words of core/proto/door.proto.
namespace chipfall {

std::string_view link_word(SyncProgress::Link link);
std::string_view refusal_word(proto::RefusalKind kind);  ///< empty: of a newer hub

/// One line, in the order that an entry goes: saved here, on its way, at the hub.
std::string sync_line(const proto::SyncState& state);

/// What can be compared by eye: hexadecimal in groups of four.
std::string fingerprint_words(std::string_view fingerprint);

}  // namespace chipfall
