#include <algorithm>

#include "core/ledger/rename.h"
#include "sync/device_rows.h"
#include "sync/device_state.h"
#include "sync/reduce.h"

/// What the hub sends, into the ledger.
namespace chipfall {

namespace {

/// Whether these bytes can be an entry of the ledger at all.
bool is_entry(const std::string& bytes) {
  proto::Entry entry;
  return bytes.size() <= kMostEntryBytes && entry.ParseFromString(bytes) &&
         !entry.device().empty() && entry.device().size() <= kMostDeviceBytes &&
         entry.sequence() >= 1 && entry.sequence() <= read(INT64_MAX);
}

}  // namespace

OrError<Taken> DeviceState::take_page(std::span<const std::string> entries, std::uint64_t next,
                                      std::uint64_t hub_last, std::int64_t now_ms) {
  auto taken = store_page(entries, {}, next, hub_last, now_ms);
  if (taken || taken.error().code == ErrorCode::kUnreadable) return taken;
  // Something that can be no entry is the exception, so only now each is looked at by itself.
  std::vector<std::string> sound;
  std::vector<std::string> broken;
  for (const std::string& entry : entries) (is_entry(entry) ? sound : broken).push_back(entry);
  if (broken.empty()) return taken;
  return store_page(sound, broken, next, hub_last, now_ms);
}

OrError<Taken> DeviceState::store_page(std::span<const std::string> sound,
                                       std::span<const std::string> broken, std::uint64_t next,
                                       std::uint64_t hub_last, std::int64_t now_ms) {
  SyncPlace place = place_;
  place.cursor = next;
  place.hub_last = std::max(hub_last, next);
  Taken taken;
  const auto answers =
      store_->add_received(sound, now_ms, [&](std::span<const Received> all) -> OrError<void> {
        const auto settled = settle_differing(sound, all, now_ms, taken);
        if (!settled) return settled;
        for (std::size_t i = 0; i < broken.size(); ++i) {
          const auto kept = park({"", next + i, kTriesBeforeParking,
                                  "the hub sent something that is no entry", broken[i]});
          if (!kept) return kept;
        }
        return write_place(place, pending_);
      });
  if (!answers) return tl::unexpected(answers.error());
  place_ = place;
  taken.added =
      static_cast<std::size_t>(std::count(answers->begin(), answers->end(), Received::kNew));
  return taken;
}

/// Where the hub's entry and the one here have one name and other bytes.
OrError<void> DeviceState::settle_differing(std::span<const std::string> entries,
                                            std::span<const Received> answers, std::int64_t now_ms,
                                            Taken& taken) {
  const auto former = former_names();
  if (!former) return tl::unexpected(former.error());
  std::map<std::string, std::set<std::uint64_t>> from_hub;  // of former names, in this page
  for (std::size_t i = 0; i < answers.size() && !former->empty(); ++i) {
    proto::Entry entry;
    if (answers[i] == Received::kKnownDifferent || !entry.ParseFromString(entries[i])) continue;
    if (former->count(entry.device()) > 0) from_hub[entry.device()].insert(entry.sequence());
  }
  for (std::size_t i = 0; i < answers.size(); ++i) {
    if (former->empty() && answers[i] != Received::kKnownDifferent) continue;
    proto::Entry entry;
    if (!entry.ParseFromString(entries[i])) continue;  // is_entry has parsed it
    const bool own_once = former->count(entry.device()) > 0;
    taken.of_former = taken.of_former || own_once;
    if (answers[i] != Received::kKnownDifferent) continue;
    if (own_once && !entry.reduced()) {
      // Another device went on under that name, and the hub had its entry first.
      const auto moved =
          make_room(entry.device(), entry.sequence(), entries[i], from_hub[entry.device()], now_ms);
      if (!moved) return moved;
      ++taken.replaced;
      taken.moved = true;
      continue;
    }
    // Own ones are settled by Compare and a new name; a reduced one adds nothing to a whole one.
    if (entry.device() == device() || entry.reduced()) continue;
    const auto ours = store_->bytes_of(entry.device(), entry.sequence());
    if (!ours) return tl::unexpected(ours.error());
    if (*ours && !is_reduced(**ours)) {
      const auto kept =
          park({entry.device(), entry.sequence(), kTriesBeforeParking,
                "the hub has another entry by this name; this one was here before", **ours});
      if (!kept) return kept;
    }
    const auto replaced = replace_entry(store_->file(), entries[i], now_ms);
    if (!replaced) return replaced;
    ++taken.replaced;
  }
  return {};
}

/// Puts the hub's entry in place of an own one of a former name. That one and all own ones after it
/// move: the log's line goes another way from here. Inside a transaction.
OrError<void> DeviceState::make_room(const std::string& former, std::uint64_t sequence,
                                     const std::string& bytes,
                                     const std::set<std::uint64_t>& from_hub, std::int64_t now_ms) {
  const auto names = former_names();
  if (!names) return tl::unexpected(names.error());
  const auto settled = names->find(former);
  std::vector<std::uint64_t> moving;
  const auto visited = store_->visit_device(former, sequence - 1, [&](const StoredEntry& entry) {
    const std::uint64_t at = entry.order.sequence;
    const bool at_hub =
        (settled != names->end() && at <= settled->second) || from_hub.count(at) > 0;
    if (at == sequence || !at_hub) moving.push_back(at);
    return true;
  });
  if (!visited) return tl::unexpected(visited.error());
  // An earlier one of this page may have taken it along.
  if (!moving.empty() && moving.front() == sequence) {
    const auto moved = move_line(former, moving);
    if (!moved) return moved;
  }
  return insert_received(store_->file(), bytes, now_ms);
}

}  // namespace chipfall
