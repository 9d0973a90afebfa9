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

OrError<void> DeviceMachine::begin_compare(DeviceActions& out) {
  under_way_.clear();
  relays_.clear();
  differing_.clear();
  lacking_from_.reset();
  compare_next_ = 1;
  state_ = State::kComparing;
  return send_compare(out);
}

/// Asks about the next own entries, or for a new name after the last.
OrError<void> DeviceMachine::send_compare(DeviceActions& out) {
  const auto own = memory_->own_from(compare_next_, kMostCompared);
  if (!own) return tl::unexpected(own.error());
  if (own->empty()) return ask_name(out);
  proto::Frame frame;
  frame.mutable_compare()->set_device(memory_->device());
  frame.mutable_compare()->set_first(compare_next_);
  for (const std::string& bytes : *own) {
    frame.mutable_compare()->add_hashes(bytes.empty() ? std::string() : short_hash(bytes));
  }
  send(frame, out);
  return {};
}

OrError<void> DeviceMachine::compared(const proto::Frame& frame, std::size_t, Moment,
                                      DeviceActions& out) {
  const proto::Compared& compared = frame.compared();
  if (compared.device() != memory_->device() || compared.first() != compare_next_ ||
      compared.verdicts_size() == 0 || compared.verdicts_size() > int(kMostCompared)) {
    give_up(proto::REFUSAL_OUT_OF_ORDER, "the hub compared something else", out);
    return {};
  }
  const auto own =
      memory_->own_from(compare_next_, static_cast<std::size_t>(compared.verdicts_size()));
  if (!own) return tl::unexpected(own.error());
  for (const int verdict : compared.verdicts()) {
    const auto place = static_cast<std::size_t>(compare_next_ - compared.first());
    if (place < own->size() && !(*own)[place].empty()) {
      if (verdict == proto::VERDICT_KNOWN_DIFFERENT) differing_.push_back(compare_next_);
      if (verdict == proto::VERDICT_NEW && !lacking_from_) lacking_from_ = compare_next_;
    }
    ++compare_next_;
  }
  return send_compare(out);
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
  if (!memory_->pending() || frame.renamed().device() != memory_->pending()->device) {
    give_up(proto::REFUSAL_OUT_OF_ORDER, "the hub named something else", out);
    return {};
  }
  // What was appended meanwhile is lacking as well.
  const std::uint64_t settled = lacking_from_.value_or(compare_next_) - 1;
  const auto taken = memory_->take_new_name(differing_, settled);
  if (!taken) return taken;
  out.rebuild_views = true;
  return begin_syncing(0, now, out);
}

}  // namespace chipfall
