#include "sync/device_machine.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>

#include "sync/batch.h"
#include "sync/secret.h"

namespace chipfall {

namespace {

constexpr int kAnyState = -1;
constexpr std::size_t kNameBytes = 16;

double chance_of(const Random& random) {
  std::uint32_t value = 0;
  for (const char byte : random(4)) value = value << 8 | static_cast<unsigned char>(byte);
  return double(value) / 4294967296.0;
}

}  // namespace

struct DeviceMachine::Row {
  int state;
  proto::Frame::BodyCase on;
  Act act;
};

const DeviceMachine::Row DeviceMachine::kTable[] = {
    {int(State::kJoining), proto::Frame::kJoined, &DeviceMachine::joined},
    {int(State::kGreeting), proto::Frame::kChallenge, &DeviceMachine::challenge},
    {int(State::kProving), proto::Frame::kWelcome, &DeviceMachine::welcome},
    {int(State::kComparing), proto::Frame::kCompared, &DeviceMachine::compared},
    {int(State::kRenaming), proto::Frame::kRenamed, &DeviceMachine::renamed},
    {int(State::kSyncing), proto::Frame::kPage, &DeviceMachine::page},
    {int(State::kSyncing), proto::Frame::kAck, &DeviceMachine::ack},
    {int(State::kSyncing), proto::Frame::kLacking, &DeviceMachine::lacking},
    // Answers to what was sent before the fork was noticed.
    {int(State::kComparing), proto::Frame::kAck, &DeviceMachine::nothing},
    {int(State::kRenaming), proto::Frame::kAck, &DeviceMachine::nothing},
    {int(State::kComparing), proto::Frame::kPage, &DeviceMachine::nothing},
    {int(State::kRenaming), proto::Frame::kPage, &DeviceMachine::nothing},
    {int(State::kComparing), proto::Frame::kLacking, &DeviceMachine::nothing},
    {int(State::kRenaming), proto::Frame::kLacking, &DeviceMachine::nothing},
    {kAnyState, proto::Frame::kPing, &DeviceMachine::ping},
    {kAnyState, proto::Frame::kPong, &DeviceMachine::pong},
    {kAnyState, proto::Frame::kRefusal, &DeviceMachine::refusal},
    {kAnyState, proto::Frame::BODY_NOT_SET, &DeviceMachine::nothing},
};

DeviceMachine::DeviceMachine(DeviceState& state, Random random)
    : memory_(&state), random_(std::move(random)) {}

OrError<void> DeviceMachine::join_with(const JoinCode& code, const std::string& label) {
  if (code.secret.size() != kJoinSecretBytes) {
    return sync_error(ErrorCode::kMistake, "the joining code is not whole; scan it again");
  }
  // Kept before it is sent: a lost answer is asked for again with the same credential.
  const auto begun = memory_->begin_join(code, random_);
  if (!begun) return begun;
  code_ = code;
  label_ = label;
  return {};
}

DeviceActions DeviceMachine::connected(const std::string& channel_binding, Moment now) {
  DeviceActions out;
  channel_binding_ = channel_binding;
  failure_.reset();
  refusal_.reset();
  waits_since_steady_ms_ = now.steady_ms;
  ping_at_steady_ms_ = now.steady_ms + kPingEvery_ms;
  push_number_ = 0;
  under_way_.clear();
  relays_.clear();
  retry_.clear();
  offering_ = awaits_lacking_ = false;
  offered_up_to_.clear();
  differing_.clear();
  if (!code_ || !memory_->pending_join()) {
    auto said = say_hello(out);
    return finish(std::move(said), std::move(out));
  }
  proto::Frame frame;
  proto::Join& join = *frame.mutable_join();
  *join.mutable_versions() = own_versions();
  join.set_secret(code_->secret);
  join.set_device(memory_->device());
  join.set_verifier(verifier_of(memory_->pending_join()->credential));
  join.set_label(label_);
  const auto epoch = memory_->store().epoch();
  if (!epoch) return finish(tl::unexpected(epoch.error()), std::move(out));
  join.set_device_epoch(*epoch);
  send(frame, out);
  state_ = State::kJoining;
  return out;
}

OrError<void> DeviceMachine::say_hello(DeviceActions& out) {
  const SyncPlace& place = memory_->place();
  proto::Frame frame;
  proto::Hello& hello = *frame.mutable_hello();
  *hello.mutable_versions() = own_versions();
  hello.set_shop(place.shop);
  hello.set_device(memory_->device());
  const auto epoch = memory_->store().epoch();
  if (!epoch) return tl::unexpected(epoch.error());
  hello.set_device_epoch(*epoch);
  hello.set_hub_epoch(place.hub_epoch);
  const auto highest = memory_->own_highest();
  if (!highest) return tl::unexpected(highest.error());
  hello.set_own_highest(*highest);
  hello.set_cursor(place.cursor);
  hello.set_nonce(random_(kNonceBytes));
  send(frame, out);
  hello_bytes_ = out.send.back().substr(kFrameSumBytes);
  state_ = State::kGreeting;
  return {};
}

DeviceActions DeviceMachine::receive(std::string_view bytes, Moment now) {
  DeviceActions out;
  if (state_ == State::kOffline || state_ == State::kRefused) return out;
  const auto frame = decode_frame(bytes);
  if (!frame) {
    give_up(proto::REFUSAL_DAMAGED, frame.error().message, out);
    return out;
  }
  received_body_ = bytes.substr(kFrameSumBytes);
  waits_since_steady_ms_ = 0;
  for (const Row& row : kTable) {
    if (row.on != frame->body_case()) continue;
    if (row.state != kAnyState && row.state != int(state_)) continue;
    auto done = (this->*row.act)(*frame, bytes.size(), now, out);
    if (state_ != State::kSyncing) waits_since_steady_ms_ = now.steady_ms;
    return finish(std::move(done), std::move(out));
  }
  give_up(proto::REFUSAL_OUT_OF_ORDER, "the hub said something that has no place here", out);
  return out;
}

OrError<void> DeviceMachine::joined(const proto::Frame& frame, std::size_t, Moment,
                                    DeviceActions& out) {
  const auto kept = memory_->finish_join(frame.joined());
  if (!kept) return kept;
  code_.reset();
  return say_hello(out);
}

OrError<void> DeviceMachine::challenge(const proto::Frame& frame, std::size_t, Moment,
                                       DeviceActions& out) {
  const proto::Challenge& challenge = frame.challenge();
  if (challenge.version() < kOldestProtocol || challenge.version() > kNewestProtocol ||
      challenge.nonce().size() != kNonceBytes) {
    give_up(proto::REFUSAL_UPDATE_DEVICE, "the hub speaks a version that is not known here", out);
    return {};
  }
  // Over the bytes as they came: what this version does not know of them counts as well.
  proto::Frame answer;
  answer.mutable_proof()->set_proof(
      proof_of(memory_->place().credential, {hello_bytes_, received_body_, channel_binding_}));
  send(answer, out);
  state_ = State::kProving;
  return {};
}

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

OrError<void> DeviceMachine::welcome(const proto::Frame& frame, std::size_t, Moment now,
                                     DeviceActions& out) {
  const proto::Welcome& welcome = frame.welcome();
  failures_ = 0;
  push_credit_ = static_cast<std::int64_t>(welcome.push_credit());
  const auto split = forked(welcome);
  if (!split) return tl::unexpected(split.error());

  SyncPlace place = memory_->place();
  const bool first = place.hub_epoch.empty();
  // Where the hub has less than was acknowledged, it is offered again. Where it has more, an
  // acknowledgement was lost, or another device has this name: only the answers to offering it
  // once more can tell.
  place.acked = std::min(place.acked, welcome.held_through());
  place.hub_epoch = welcome.hub_epoch();
  place.cursor = welcome.resume_after();
  place.hub_last = welcome.last_position();
  place.role = welcome.role();
  if (first) place.offered_epoch = welcome.hub_epoch();
  const auto kept = memory_->put_place(place);
  if (!kept) return kept;
  if (*split) return begin_compare(out);
  return begin_syncing(place.cursor, now, out);
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

OrError<void> DeviceMachine::begin_syncing(std::uint64_t cursor, Moment now, DeviceActions& out) {
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
  return push_credit_ > 0 && under_way_.size() < kMostPushesUnderWay;
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
  if (own && !differing.empty()) return begin_compare(out);
  const auto settled = own ? memory_->acknowledged(std::min(ack.through(), sent.through))
                           : settle_other(sent, differing, now, out);
  if (!settled) return settled;
  const auto pushed = push_more(out);
  if (!pushed) return pushed;
  return end_offering();
}

/// Entries of another name are on the hub's disk. Where it has others by their names: of a former
/// own name, ours move to the present one; of other devices, the hub's come with the pages.
OrError<void> DeviceMachine::settle_other(const UnderWay& sent,
                                          std::span<const std::uint64_t> differing, Moment now,
                                          DeviceActions& out) {
  const auto former = memory_->former_names();
  if (!former) return tl::unexpected(former.error());
  if (former->count(sent.name) == 0) return {};
  // A page may have brought the hub's entry meanwhile, and ours may have moved already.
  std::vector<std::uint64_t> still_ours;
  for (const std::uint64_t sequence : differing) {
    const auto here = memory_->store().bytes_of(sent.name, sequence);
    if (!here) return tl::unexpected(here.error());
    const auto was = sent.sent.find(sequence);
    if (*here && was != sent.sent.end() && short_hash(**here) == was->second) {
      still_ours.push_back(sequence);
    }
  }
  if (!still_ours.empty()) {
    const auto moved = memory_->move_here(sent.name, still_ours, now.utc_ms);
    if (!moved) return moved;
    out.rebuild_views = true;
  }
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

OrError<void> DeviceMachine::ping(const proto::Frame& frame, std::size_t, Moment now,
                                  DeviceActions& out) {
  proto::Frame answer;
  answer.mutable_pong()->set_sent_utc_ms(frame.ping().sent_utc_ms());
  answer.mutable_pong()->set_received_utc_ms(now.utc_ms);
  answer.mutable_pong()->set_answered_utc_ms(now.utc_ms);
  send(answer, out);
  return {};
}

/// Offset and round trip as in NTP (RFC 5905, section 8).
OrError<void> DeviceMachine::pong(const proto::Frame& frame, std::size_t, Moment now,
                                  DeviceActions& out) {
  const proto::Pong& pong = frame.pong();
  const auto within = [](std::int64_t ms) {
    return std::clamp<std::int64_t>(ms, 0, kLatestWall_ms);
  };
  const std::int64_t sent = within(pong.sent_utc_ms()), back = within(now.utc_ms);
  const std::int64_t there = within(pong.received_utc_ms());
  const std::int64_t answered = within(pong.answered_utc_ms());
  const std::int64_t ahead = ((sent - there) + (back - answered)) / 2;
  const std::int64_t round_trip = (back - sent) - (answered - there);
  // A clock that was set while the answer was under way says nothing.
  if (round_trip < 0 || round_trip > kMostUnanswered_ms) return {};
  return record_clock(ahead, (round_trip + 1) / 2, now, out);
}

OrError<void> DeviceMachine::record_clock(std::int64_t ahead_ms, std::int64_t give_or_take_ms,
                                          Moment now, DeviceActions& out) {
  if (std::abs(ahead_ms - memory_->place().ahead_ms) <= kClockWorthRecording_ms) return {};
  if (state_ != State::kSyncing) return {};
  proto::Entry entry;
  entry.set_event_utc_ms(now.utc_ms);
  entry.mutable_clock_measured()->set_ahead_ms(ahead_ms);
  entry.mutable_clock_measured()->set_give_or_take_ms(static_cast<std::uint32_t>(give_or_take_ms));
  const auto appended = memory_->store().append(entry, now.utc_ms);
  if (!appended) return appended;
  SyncPlace place = memory_->place();
  place.ahead_ms = ahead_ms;
  const auto kept = memory_->put_place(place);
  if (!kept) return kept;
  out.ledger_grew = true;
  return push_more(out);
}

OrError<void> DeviceMachine::refusal(const proto::Frame& frame, std::size_t, Moment,
                                     DeviceActions& out) {
  refusal_ = frame.refusal();
  // A code that will never work is not tried again.
  if (state_ == State::kJoining && !refusal_->waiting_helps()) code_.reset();
  state_ = State::kRefused;
  out.close = true;
  return {};
}

OrError<void> DeviceMachine::nothing(const proto::Frame&, std::size_t, Moment, DeviceActions&) {
  return {};
}

DeviceActions DeviceMachine::look(Moment) {
  DeviceActions out;
  if (state_ != State::kSyncing) return out;
  auto pushed = push_more(out);
  return finish(std::move(pushed), std::move(out));
}

DeviceActions DeviceMachine::tick(Moment now) {
  DeviceActions out;
  if (state_ == State::kOffline || state_ == State::kRefused) return out;
  if (waits_since_steady_ms_ != 0 && now.steady_ms - waits_since_steady_ms_ > kMostUnanswered_ms) {
    give_up(proto::REFUSAL_SILENT, "nothing was heard from the hub for too long", out);
    return out;
  }
  if (state_ == State::kSyncing && now.steady_ms >= ping_at_steady_ms_) {
    proto::Frame frame;
    frame.mutable_ping()->set_sent_utc_ms(now.utc_ms);
    send(frame, out);
    ping_at_steady_ms_ = now.steady_ms + kPingEvery_ms;
    if (waits_since_steady_ms_ == 0) waits_since_steady_ms_ = now.steady_ms;
  }
  return out;
}

DeviceActions DeviceMachine::disconnected(Moment now) {
  DeviceActions out;
  state_ = State::kOffline;
  under_way_.clear();
  relays_.clear();
  ++failures_;
  if (refusal_ && !refusal_->waiting_helps()) return out;
  std::int64_t wait = backoff_ms(failures_, chance_of(random_));
  if (refusal_) wait += refusal_->retry_after_ms();
  out.connect_at_steady_ms = now.steady_ms + wait;
  return out;
}

bool DeviceMachine::up_to_date() const {
  return state_ == State::kSyncing && under_way_.empty() && !offering_ && retry_.empty() &&
         memory_->place().cursor >= memory_->place().hub_last;
}

OrError<SyncProgress> DeviceMachine::progress() {
  const auto box = memory_->outbox();
  if (!box) return tl::unexpected(box.error());
  SyncProgress progress;
  progress.saved_here = box->waiting;
  progress.at_hub = box->at_hub;
  progress.parked = box->parked;
  progress.pulled = memory_->place().cursor;
  progress.to_pull = memory_->place().hub_last;
  progress.refusal = refusal_;
  for (const auto& [number, sent] : under_way_) {
    if (sent.name == memory_->device()) progress.on_its_way += sent.entries;
  }
  using Link = SyncProgress::Link;
  switch (state_) {
    case State::kOffline:
      progress.link = memory_->place().shop.empty() ? Link::kNotJoined : Link::kOffline;
      break;
    case State::kRefused:
      progress.link = Link::kRefused;
      break;
    case State::kSyncing:
      progress.link = up_to_date() && box->waiting == 0 ? Link::kUpToDate : Link::kSyncing;
      break;
    default:
      progress.link = Link::kConnecting;
  }
  return progress;
}

void DeviceMachine::send(const proto::Frame& frame, DeviceActions& out) {
  out.send.push_back(encode_frame(frame));
}

void DeviceMachine::give_up(proto::RefusalKind kind, const std::string& sentence,
                            DeviceActions& out) {
  proto::Frame frame;
  frame.mutable_refusal()->set_kind(kind);
  frame.mutable_refusal()->set_sentence(sentence);
  frame.mutable_refusal()->set_waiting_helps(true);
  refusal_ = frame.refusal();
  send(frame, out);
  out.close = true;
  state_ = State::kRefused;
}

DeviceActions DeviceMachine::finish(OrError<void> result, DeviceActions out) {
  if (result) return out;
  failure_ = result.error();
  out.close = true;
  state_ = State::kRefused;
  return out;
}

}  // namespace chipfall
