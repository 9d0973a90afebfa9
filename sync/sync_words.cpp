#include "sync/sync_words.h"

#include <fmt/format.h>

namespace chipfall {

std::string_view link_word(SyncProgress::Link link) {
  switch (link) {
    case SyncProgress::Link::kNotJoined:
      return "not joined";
    case SyncProgress::Link::kOffline:
      return "offline";
    case SyncProgress::Link::kConnecting:
      return "connecting";
    case SyncProgress::Link::kSyncing:
      return "syncing";
    case SyncProgress::Link::kUpToDate:
      return "up to date";
    case SyncProgress::Link::kRefused:
      return "refused";
  }
  return "offline";
}

std::string_view refusal_word(proto::RefusalKind kind) {
  switch (kind) {
    case proto::REFUSAL_UPDATE_DEVICE:
      return "update device";
    case proto::REFUSAL_UPDATE_HUB:
      return "update hub";
    case proto::REFUSAL_NOT_A_MEMBER:
      return "not a member";
    case proto::REFUSAL_REVOKED:
      return "revoked";
    case proto::REFUSAL_WRONG_SHOP:
      return "wrong shop";
    case proto::REFUSAL_CODE_WRONG:
      return "code wrong";
    case proto::REFUSAL_CODE_EXPIRED:
      return "code expired";
    case proto::REFUSAL_CODE_USED:
      return "code used";
    case proto::REFUSAL_TOO_MANY_TRIES:
      return "too many tries";
    case proto::REFUSAL_DAMAGED:
      return "damaged";
    case proto::REFUSAL_OUT_OF_ORDER:
      return "out of order";
    case proto::REFUSAL_OVER_CREDIT:
      return "over credit";
    case proto::REFUSAL_TOO_LARGE:
      return "too large";
    case proto::REFUSAL_BUSY:
      return "busy";
    case proto::REFUSAL_STOPPING:
      return "stopping";
    case proto::REFUSAL_REPLACED:
      return "replaced";
    case proto::REFUSAL_NOT_YOURS:
      return "not yours";
    case proto::REFUSAL_SILENT:
      return "silent";
    default:
      return "";
  }
}

std::string sync_line(const proto::SyncState& state) {
  std::string line = state.link();
  if (line == "not joined") line = "not joined yet";
  if (line == "offline") line = "no connection";
  if (line == "syncing") line = "connected";
  if (line == "refused") line = "turned away";
  fmt::format_to(std::back_inserter(line), ": {} saved here, {} on its way, {} at the hub",
                 state.saved_here() - state.on_its_way(), state.on_its_way(), state.at_hub());
  if (state.to_fetch() > 0) {
    fmt::format_to(std::back_inserter(line), ", {} to fetch", state.to_fetch());
  }
  if (state.set_aside() > 0) {
    fmt::format_to(std::back_inserter(line), ", {} {} set aside", state.set_aside(),
                   state.set_aside() == 1 ? "entry" : "entries");
  }
  return line;
}

std::string fingerprint_words(std::string_view fingerprint) {
  std::string text;
  for (std::size_t i = 0; i < fingerprint.size(); ++i) {
    if (i > 0 && i % 2 == 0) text += ' ';
    fmt::format_to(std::back_inserter(text), "{:02x}", static_cast<unsigned char>(fingerprint[i]));
  }
  return text;
}

}  // namespace chipfall
