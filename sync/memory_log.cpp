#include "sync/memory_log.h"

#include <algorithm>

#include "sync/frame.h"
#include "sync/secret.h"

namespace chipfall {

MemoryLog::MemoryLog(std::string shop, std::string epoch) : shop_(std::move(shop)) {
  epochs_.push_back({std::move(epoch), 0});
}

OrError<Held> MemoryLog::held(const std::string& device) {
  const auto found = places_.find(device);
  if (found == places_.end() || found->second.empty()) return Held{};
  const auto& [sequence, index] = *found->second.rbegin();
  return Held{sequence, sha256(entries_[index].bytes)};
}

OrError<std::string> MemoryLog::short_hash_of(const std::string& device, std::uint64_t sequence) {
  const auto found = places_.find(device);
  if (found == places_.end()) return std::string();
  const auto place = found->second.find(sequence);
  return place == found->second.end() ? std::string() : short_hash(entries_[place->second].bytes);
}

OrError<void> MemoryLog::visit(std::uint64_t after,
                               const std::function<bool(const LoggedEntry&)>& visitor) {
  for (std::uint64_t position = after + 1; position <= entries_.size(); ++position) {
    const Entry& entry = entries_[position - 1];
    if (!visitor({position, entry.device, entry.sequence, entry.bytes})) break;
  }
  return {};
}

OrError<std::vector<Verdicts>> MemoryLog::commit(std::span<const Offer> offers, std::int64_t) {
  if (failing_commits > 0) {
    --failing_commits;
    return sync_error(ErrorCode::kOutOfBounds, "the disk is full; free some space");
  }
  std::vector<Verdicts> answers;
  for (const Offer& offer : offers) {
    Verdicts verdicts;
    for (std::size_t i = 0; i < offer.entries.size(); ++i) {
      if (refuses && refuses(offer.device, offer.sequences[i])) {
        verdicts.push_back(proto::VERDICT_REFUSED);
        continue;
      }
      auto& places = places_[offer.device];
      if (!mixes_lines && offer.line && offer.line->left && places.count(offer.sequences[i]) == 0) {
        verdicts.push_back(proto::VERDICT_KNOWN_DIFFERENT);
        continue;
      }
      const auto [place, is_new] = places.try_emplace(offer.sequences[i], entries_.size());
      if (is_new) {
        entries_.push_back({offer.device, offer.sequences[i], offer.entries[i]});
        verdicts.push_back(proto::VERDICT_NEW);
      } else {
        verdicts.push_back(entries_[place->second].bytes == offer.entries[i]
                               ? proto::VERDICT_KNOWN_SAME
                               : proto::VERDICT_KNOWN_DIFFERENT);
        const bool differs = verdicts.back() == proto::VERDICT_KNOWN_DIFFERENT;
        if (offer.line && differs) offer.line->left = true;
      }
    }
    answers.push_back(std::move(verdicts));
  }
  if (!forgetful) durable_ = entries_.size();
  return answers;
}

OrError<std::optional<HubDevice>> MemoryLog::device(const std::string& name) {
  const auto found = devices_.find(name);
  return found == devices_.end() ? std::nullopt : std::optional(found->second);
}

OrError<void> MemoryLog::put_device(const HubDevice& device) {
  devices_[device.device] = device;
  return {};
}

OrError<std::optional<HubJoinCode>> MemoryLog::join_code(const std::string& secret_hash) {
  const auto found = codes_.find(secret_hash);
  return found == codes_.end() ? std::nullopt : std::optional(found->second);
}

OrError<void> MemoryLog::put_join_code(const HubJoinCode& code) {
  codes_[code.secret_hash] = code;
  return {};
}

OrError<void> MemoryLog::redeem(const HubJoinCode& code, const HubDevice& device) {
  codes_[code.secret_hash].used_by = device.device;
  return put_device(device);
}

void MemoryLog::cut_to(std::uint64_t positions) {
  while (entries_.size() > positions) {
    places_[entries_.back().device].erase(entries_.back().sequence);
    entries_.pop_back();
  }
  durable_ = std::min<std::uint64_t>(durable_, positions);
}

void MemoryLog::restore(std::uint64_t positions, const std::string& epoch) {
  cut_to(positions);
  epochs_.push_back({epoch, entries_.size()});
}

}  // namespace chipfall
