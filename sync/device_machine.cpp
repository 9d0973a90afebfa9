#include "sync/device_machine.h"

#include <algorithm>
#include <cstdlib>

#include "sync/secret.h"

namespace chipfall {

namespace {

constexpr int kAnyState = -1;

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
    {int(State::kComparing), proto::Frame::kAck, &DeviceMachine::late_ack},
    {int(State::kRenaming), proto::Frame::kAck, &DeviceMachine::late_ack},
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
  lacking_.clear();
  naming_.reset();
  names_wanted_ = false;
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
  // A name that forked keeps what was acknowledged once: others may have these from the hub.
  if (!*split) place.acked = std::min(place.acked, welcome.held_through());
  place.hub_epoch = welcome.hub_epoch();
  place.cursor = welcome.resume_after();
  place.hub_last = welcome.last_position();
  place.role = welcome.role();
  if (first) place.offered_epoch = welcome.hub_epoch();
  const auto kept = memory_->put_place(place);
  if (!kept) return kept;
  if (*split) return begin_compare(memory_->device(), now, out);
  return begin_syncing(place.cursor, now, out);
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
  out.ledger_grew = out.ledger_grew || out.rebuild_views;
  if (result) return out;
  failure_ = result.error();
  out.close = true;
  state_ = State::kRefused;
  return out;
}

}  // namespace chipfall
