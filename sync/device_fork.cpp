#include <algorithm>

#include "sync/device_machine.h"
#include "sync/secret.h"

/// Two devices had one name: what differs is found, and this one takes another.
namespace chipfall {
namespace {

constexpr std::size_t kNameBytes = 16;

}  // namespace

OrError<bool> DeviceMachine::forked(const proto::Welcome& welcome) {
  if (welcome.take_new_name() || memory_->pending()) return true;
  const auto highest = memory_->own_highest();
  if (!highest) return tl::unexpected(highest.error());
  if (*highest < welcome.held_through()) return true;
  if (welcome.held_through() == 0) return false;
  const auto own = memory_->store().bytes_of(memory_->device(), welcome.held_through());
  if (!own) return tl::unexpected(own.error());
  return !*own || sha256(**own) != welcome.held_hash();
}

OrError<void> DeviceMachine::begin_compare(const std::string& name, Moment now,
                                           DeviceActions& out) {
  under_way_.clear();
  relays_.clear();
  differing_.clear();
  lacking_.clear();
  compare_name_ = name;
  compare_next_ = 1;
  state_ = State::kComparing;
  return send_compare(now, out);
}

/// Asks about the next own entries; after the last, they leave.
OrError<void> DeviceMachine::send_compare(Moment now, DeviceActions& out) {
  const auto own = memory_->own_from(compare_name_, compare_next_, kMostCompared);
  if (!own) return tl::unexpected(own.error());
  if (own->empty() && compare_name_ == memory_->device()) return ask_name(out);
  if (own->empty()) {
    const auto line = leaving();
    if (!line) return tl::unexpected(line.error());
    const auto left = memory_->leave_former(compare_name_, line->moving, line->settled, now.utc_ms);
    if (!left) return left;
    out.rebuild_views = !line->moving.empty();
    return begin_syncing(memory_->place().cursor, now, out);
  }
  proto::Frame frame;
  frame.mutable_compare()->set_device(compare_name_);
  frame.mutable_compare()->set_first(compare_next_);
  for (const std::string& bytes : *own) {
    frame.mutable_compare()->add_hashes(bytes.empty() ? std::string() : short_hash(bytes));
  }
  send(frame, out);
  return {};
}

OrError<void> DeviceMachine::compared(const proto::Frame& frame, std::size_t, Moment now,
                                      DeviceActions& out) {
  const proto::Compared& compared = frame.compared();
  if (compared.device() != compare_name_ || compared.first() != compare_next_ ||
      compared.verdicts_size() == 0 || compared.verdicts_size() > int(kMostCompared)) {
    give_up(proto::REFUSAL_OUT_OF_ORDER, "the hub compared something else", out);
    return {};
  }
  const auto own = memory_->own_from(compare_name_, compare_next_,
                                     static_cast<std::size_t>(compared.verdicts_size()));
  if (!own) return tl::unexpected(own.error());
  for (const int verdict : compared.verdicts()) {
    const auto place = static_cast<std::size_t>(compare_next_ - compared.first());
    if (place < own->size() && !(*own)[place].empty()) {
      if (verdict == proto::VERDICT_KNOWN_DIFFERENT) differing_.push_back(compare_next_);
      if (verdict == proto::VERDICT_NEW) lacking_.push_back(compare_next_);
    }
    ++compare_next_;
  }
  return send_compare(now, out);
}

OrError<DeviceMachine::Leaving> DeviceMachine::leaving() {
  const SyncPlace& place = memory_->place();
  std::uint64_t at_hub_once = place.acked;
  if (compare_name_ != memory_->device()) {
    const auto former = memory_->former_names();
    if (!former) return tl::unexpected(former.error());
    at_hub_once = former->count(compare_name_) > 0 ? former->at(compare_name_) : 0;
  }
  std::vector<std::uint64_t> lacking = lacking_;
  // What was appended meanwhile is lacking as well.
  const auto visited = memory_->store().visit_device(compare_name_, compare_next_ - 1,
                                                     [&](const StoredEntry& entry) {
                                                       lacking.push_back(entry.order.sequence);
                                                       return true;
                                                     });
  if (!visited) return tl::unexpected(visited.error());

  // After the first that differs, the log's line is not this one. Others may hold what the hub had
  // once, and offer it by its old name again: that stays.
  const bool hub_restored = place.offered_epoch != place.hub_epoch;
  Leaving line{differing_, compare_next_ - 1};
  if (!lacking.empty()) line.settled = std::max(line.settled, lacking.back());
  std::optional<std::uint64_t> stays;
  for (const std::uint64_t sequence : lacking) {
    const bool after = !differing_.empty() && sequence > differing_.front();
    if (after && sequence > at_hub_once && !hub_restored) {
      line.moving.push_back(sequence);
    } else if (!stays) {
      stays = sequence;
    }
  }
  std::sort(line.moving.begin(), line.moving.end());
  if (stays) line.settled = *stays - 1;
  return line;
}

OrError<void> DeviceMachine::ask_name(DeviceActions& out) {
  if (!memory_->pending()) {
    const auto begun = memory_->begin_new_name(
        {random_(kNameBytes), random_(kNameBytes), random_(kCredentialBytes)});
    if (!begun) return begun;
  }
  const PendingName name = *memory_->pending();
  proto::Frame frame;
  frame.mutable_rename()->set_device(name.device);
  frame.mutable_rename()->set_device_epoch(name.epoch);
  frame.mutable_rename()->set_verifier(verifier_of(name.credential));
  send(frame, out);
  state_ = State::kRenaming;
  return {};
}

OrError<void> DeviceMachine::renamed(const proto::Frame& frame, std::size_t, Moment now,
                                     DeviceActions& out) {
  const std::string& name = frame.renamed().device();
  if (naming_) {
    const std::string& expected = naming_->empty() ? memory_->device() : naming_->back();
    if (name != expected) {
      give_up(proto::REFUSAL_OUT_OF_ORDER, "the hub named something else", out);
      return {};
    }
    if (!naming_->empty()) {
      naming_->pop_back();
      return name_next(out);
    }
    naming_.reset();
    return go_on(memory_->place().cursor, now, out);
  }
  if (!memory_->pending() || name != memory_->pending()->device) {
    give_up(proto::REFUSAL_OUT_OF_ORDER, "the hub named something else", out);
    return {};
  }
  const auto line = leaving();
  if (!line) return tl::unexpected(line.error());
  const auto taken = memory_->take_new_name(line->moving, line->settled);
  if (!taken) return taken;
  out.rebuild_views = true;
  return begin_syncing(0, now, out);
}

/// Entries are offered only under names that the hub knows to be of this device.
OrError<void> DeviceMachine::begin_syncing(std::uint64_t cursor, Moment now, DeviceActions& out) {
  names_wanted_ = false;
  auto names = memory_->moved_names();
  if (!names) return tl::unexpected(names.error());
  if (names->empty()) return go_on(cursor, now, out);
  naming_ = std::move(*names);
  state_ = State::kRenaming;
  return name_next(out);
}

/// By the same frame as a new name of the device, but for nobody to connect by; then back to the
/// device's own.
OrError<void> DeviceMachine::name_next(DeviceActions& out) {
  proto::Frame frame;
  proto::Rename& rename = *frame.mutable_rename();
  if (!naming_->empty()) {
    rename.set_device(naming_->back());
    rename.set_verifier(no_verifier());
  } else {
    const auto epoch = memory_->store().epoch();
    if (!epoch) return tl::unexpected(epoch.error());
    rename.set_device(memory_->device());
    rename.set_device_epoch(*epoch);
    rename.set_verifier(verifier_of(memory_->place().credential));
  }
  send(frame, out);
  return {};
}

/// An answer to what was sent before; what became of it is looked at anew.
OrError<void> DeviceMachine::late_ack(const proto::Frame& frame, std::size_t, Moment,
                                      DeviceActions&) {
  push_credit_ += static_cast<std::int64_t>(std::min(frame.ack().credit(), kPushWindow));
  under_way_.erase(frame.ack().number());
  return {};
}

}  // namespace chipfall
