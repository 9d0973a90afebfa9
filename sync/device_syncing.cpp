#include <algorithm>

#include "sync/batch.h"
#include "sync/device_machine.h"
#include "sync/secret.h"

/// Pages in, pushes out, and what a hub that was restored lacks.
namespace chipfall {

OrError<void> DeviceMachine::go_on(std::uint64_t cursor, Moment now, DeviceActions& out) {
  state_ = State::kSyncing;
  sent_through_ = memory_->place().acked;
  proto::Frame ping;
  ping.mutable_ping()->set_sent_utc_ms(now.utc_ms);
  send(ping, out);
  waits_since_steady_ms_ = now.steady_ms;
  proto::Frame pull;
  pull.mutable_pull()->set_after(cursor);
  pull.mutable_pull()->set_credit(kPullWindow);
  send(pull, out);
  auto refused = memory_->to_retry();
  if (!refused) return tl::unexpected(refused.error());
  retry_ = std::move(*refused);
  const auto former = memory_->former_names();
  if (!former) return tl::unexpected(former.error());
  relays_ = *former;  // each until nothing of it is left to push
  offering_ = memory_->place().offered_epoch != memory_->place().hub_epoch;
  offered_up_to_.clear();
  const auto pushed = push_more(out);
  if (!pushed || !offering_) return pushed;
  return offer_more(out);
}

bool DeviceMachine::may_push() const {
  return push_credit_ > 0 && !names_wanted_ && under_way_.size() < kMostPushesUnderWay;
}

OrError<void> DeviceMachine::push_more(DeviceActions& out) {
  while (may_push() && !retry_.empty()) {
    const OwnEntry entry = retry_.back();
    retry_.pop_back();
    const auto pushed = push(memory_->device(), entry.sequence - 1, {entry}, out);
    if (!pushed) return pushed;
    under_way_[push_number_].retried = {entry.sequence};
  }
  while (may_push()) {
    const auto pushed = push_next(memory_->device(), sent_through_, out);
    if (!pushed) return tl::unexpected(pushed.error());
    if (!*pushed) break;
  }
  while (may_push() && !relays_.empty()) {
    const auto relay = relays_.begin();
    const auto pushed = push_next(relay->first, relay->second, out);
    if (!pushed) return tl::unexpected(pushed.error());
    if (!*pushed) relays_.erase(relay);
  }
  return {};
}

/// One batch of what follows; false where nothing does.
OrError<bool> DeviceMachine::push_next(const std::string& name, std::uint64_t& sent_through,
                                       DeviceActions& out) {
  const auto entries = memory_->entries_after(name, sent_through);
  if (!entries) return tl::unexpected(entries.error());
  if (entries->empty()) return false;
  const auto pushed = push(name, sent_through, *entries, out);
  if (!pushed) return tl::unexpected(pushed.error());
  sent_through = entries->back().sequence;
  return true;
}

OrError<void> DeviceMachine::push(const std::string& name, std::uint64_t after,
                                  const std::vector<OwnEntry>& entries, DeviceActions& out) {
  std::vector<std::string> bytes;
  for (const OwnEntry& entry : entries) bytes.push_back(entry.bytes);
  auto batch = encode_batch(bytes);
  if (!batch) return tl::unexpected(batch.error());
  proto::Frame frame;
  frame.mutable_push()->set_number(++push_number_);
  frame.mutable_push()->set_device(name);
  frame.mutable_push()->set_after(after);
  frame.mutable_push()->set_batch(std::move(*batch));
  send(frame, out);
  const std::size_t size = out.send.back().size();
  push_credit_ -= static_cast<std::int64_t>(size);
  under_way_[push_number_] = {
      name, entries.back().sequence, size, static_cast<std::int64_t>(entries.size()), {}, {}};
  if (name == memory_->device()) return {};
  for (const OwnEntry& entry : entries) {
    under_way_[push_number_].sent[entry.sequence] = short_hash(entry.bytes);
  }
  return {};
}

OrError<void> DeviceMachine::page(const proto::Frame& frame, std::size_t bytes, Moment now,
                                  DeviceActions& out) {
  const proto::Page& page = frame.page();
  if (page.after() != memory_->place().cursor || page.next() <= page.after()) {
    give_up(proto::REFUSAL_OUT_OF_ORDER, "the hub left out a part of its log", out);
    return {};
  }
  std::vector<std::string> entries;
  if (!page.batch().empty()) {
    auto decoded = decode_batch(page.batch());
    if (!decoded) {
      give_up(proto::REFUSAL_DAMAGED, decoded.error().message, out);
      return {};
    }
    entries = std::move(*decoded);
  }
  const auto taken = memory_->take_page(entries, page.next(), page.last_position(), now.utc_ms);
  if (!taken) return tl::unexpected(taken.error());
  out.ledger_grew = taken->added > 0;
  out.rebuild_views = taken->replaced > 0;
  proto::Frame more;
  more.mutable_credit()->set_bytes(bytes);
  send(more, out);
  if (taken->of_former) {
    // Offered once more: the answers say how far the former name is settled now.
    const auto former = memory_->former_names();
    if (!former) return tl::unexpected(former.error());
    for (const auto& [name, settled] : *former) relays_.try_emplace(name, settled);
  }
  names_wanted_ = names_wanted_ || taken->moved;
  if (names_wanted_ && under_way_.empty()) return begin_syncing(memory_->place().cursor, now, out);
  return taken->of_former || taken->replaced > 0 ? push_more(out) : OrError<void>();
}

OrError<void> DeviceMachine::ack(const proto::Frame& frame, std::size_t, Moment now,
                                 DeviceActions& out) {
  const proto::Ack& ack = frame.ack();
  const auto found = under_way_.find(ack.number());
  if (found == under_way_.end()) {
    give_up(proto::REFUSAL_OUT_OF_ORDER, "the hub acknowledged what was not sent", out);
    return {};
  }
  const UnderWay sent = std::move(found->second);
  under_way_.erase(found);
  push_credit_ += static_cast<std::int64_t>(std::min<std::uint64_t>(ack.credit(), kPushWindow));
  const bool own = sent.name == memory_->device();
  std::vector<std::uint64_t> differing;
  std::vector<std::uint64_t> taken = sent.retried;
  for (const proto::Exception& exception : ack.exceptions()) {
    std::erase(taken, exception.sequence());
    if (exception.verdict() == proto::VERDICT_KNOWN_DIFFERENT) {
      differing.push_back(exception.sequence());
      continue;
    }
    const auto noted =
        memory_->refused(sent.name, exception.sequence(), exception.sentence().substr(0, 300));
    if (!noted) return tl::unexpected(noted.error());
  }
  for (const std::uint64_t sequence : taken) {
    const auto noted = memory_->no_longer_refused(sequence);
    if (!noted) return noted;
  }
  const OrError<bool> differs =
      own ? OrError<bool>(!differing.empty()) : still_here(sent, differing);
  if (!differs) return tl::unexpected(differs.error());
  if (*differs) return begin_compare(sent.name, now, out);
  const auto settled =
      own ? memory_->acknowledged(std::min(ack.through(), sent.through)) : settle_other(sent);
  if (!settled) return settled;
  if (names_wanted_ && under_way_.empty()) return begin_syncing(memory_->place().cursor, now, out);
  const auto pushed = push_more(out);
  if (!pushed) return pushed;
  return end_offering();
}

/// Whether the hub has others by these names of own entries, which are of a former name. Of other
/// devices' the hub's come with the pages.
OrError<bool> DeviceMachine::still_here(const UnderWay& sent,
                                        std::span<const std::uint64_t> differing) {
  if (differing.empty()) return false;
  const auto former = memory_->former_names();
  if (!former) return tl::unexpected(former.error());
  if (former->count(sent.name) == 0) return false;
  // A page may have brought the hub's entry meanwhile, and ours may have moved already.
  for (const std::uint64_t sequence : differing) {
    const auto here = memory_->store().bytes_of(sent.name, sequence);
    if (!here) return tl::unexpected(here.error());
    const auto was = sent.sent.find(sequence);
    if (*here && was != sent.sent.end() && short_hash(**here) == was->second) return true;
  }
  return false;
}

/// Entries of another name are on the hub's disk.
OrError<void> DeviceMachine::settle_other(const UnderWay& sent) {
  const auto former = memory_->former_names();
  if (!former) return tl::unexpected(former.error());
  if (former->count(sent.name) == 0) return {};
  return memory_->settle_former(sent.name, sent.through);
}

OrError<void> DeviceMachine::offer_more(DeviceActions& out) {
  const auto names = memory_->other_names(offered_up_to_, kMostHoldings);
  if (!names) return tl::unexpected(names.error());
  if (names->empty()) {
    awaits_lacking_ = false;
    return end_offering();
  }
  proto::Frame frame;
  for (const HeldName& held : *names) {
    proto::EntryName& name = *frame.mutable_holdings()->add_highest();
    name.set_device(held.device);
    name.set_sequence(held.highest);
  }
  frame.mutable_holdings()->set_more(names->size() == kMostHoldings);
  offered_up_to_ = names->back().device;
  awaits_lacking_ = true;
  send(frame, out);
  return {};
}

OrError<void> DeviceMachine::lacking(const proto::Frame& frame, std::size_t, Moment,
                                     DeviceActions& out) {
  if (!awaits_lacking_) return {};
  const auto former = memory_->former_names();
  if (!former) return tl::unexpected(former.error());
  for (const proto::EntryName& wanted : frame.lacking().held()) {
    if (wanted.device() == memory_->device() || relays_.size() > kMostHoldings) continue;
    // Of a former name, what is not settled is offered whatever the hub has after it.
    const auto settled = former->find(wanted.device());
    relays_[wanted.device()] =
        settled == former->end() ? wanted.sequence() : std::min(settled->second, wanted.sequence());
  }
  const auto pushed = push_more(out);
  if (!pushed) return pushed;
  return offer_more(out);
}

/// Once all that was lacking is acknowledged, this epoch of the hub is settled.
OrError<void> DeviceMachine::end_offering() {
  if (!offering_ || awaits_lacking_ || !relays_.empty()) return {};
  for (const auto& [number, sent] : under_way_) {
    if (sent.name != memory_->device()) return {};
  }
  offering_ = false;
  SyncPlace place = memory_->place();
  place.offered_epoch = place.hub_epoch;
  return memory_->put_place(place);
}

}  // namespace chipfall
