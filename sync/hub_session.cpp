#include "sync/hub_session.h"

#include "core/ledger/store.h"

namespace chipfall {

namespace {

constexpr int kAnyState = -1;

}  // namespace

bool name_fits(const std::string& name) { return !name.empty() && name.size() <= kMostDeviceBytes; }

struct HubSession::Row {
  int state;  // kAnyState: in each
  proto::Frame::BodyCase on;
  Act act;
};

const HubSession::Row HubSession::kTable[] = {
    {int(State::kHello), proto::Frame::kHello, &HubSession::hello},
    {int(State::kHello), proto::Frame::kJoin, &HubSession::join},
    {int(State::kProof), proto::Frame::kProof, &HubSession::proof},
    {int(State::kLive), proto::Frame::kPush, &HubSession::push},
    {int(State::kLive), proto::Frame::kPull, &HubSession::pull},
    {int(State::kLive), proto::Frame::kCredit, &HubSession::credit},
    {int(State::kLive), proto::Frame::kCompare, &HubSession::compare},
    {int(State::kLive), proto::Frame::kRename, &HubSession::rename},
    {int(State::kLive), proto::Frame::kHoldings, &HubSession::holdings},
    {kAnyState, proto::Frame::kPing, &HubSession::ping},
    {kAnyState, proto::Frame::kPong, &HubSession::nothing},
    {kAnyState, proto::Frame::BODY_NOT_SET, &HubSession::nothing},
    {kAnyState, proto::Frame::kRefusal, &HubSession::goodbye},
};

HubSession::HubSession(HubPlace& place, std::string source, std::string channel_binding,
                       std::string nonce, Moment now)
    : place_(&place),
      source_(std::move(source)),
      channel_binding_(std::move(channel_binding)),
      nonce_(std::move(nonce)),
      since_steady_ms_(now.steady_ms),
      heard_steady_ms_(now.steady_ms) {}

HubActions HubSession::receive(std::string_view bytes, Moment now) {
  HubActions out;
  if (state_ == State::kClosed) return out;
  heard_steady_ms_ = now.steady_ms;
  const auto frame = decode_frame(bytes);
  if (!frame) {
    const bool large = frame.error().code == ErrorCode::kOutOfBounds;
    refuse(large ? proto::REFUSAL_TOO_LARGE : proto::REFUSAL_DAMAGED, frame.error().message, true,
           out);
    return out;
  }
  for (const Row& row : kTable) {
    if (row.on != frame->body_case()) continue;
    if (row.state != kAnyState && row.state != int(state_)) continue;
    (this->*row.act)(*frame, bytes, now, out);
    return out;
  }
  refuse(proto::REFUSAL_OUT_OF_ORDER,
         "the device said something that has no place here; connect again, and update it if that "
         "does not help",
         true, out);
  return out;
}

void HubSession::ping(const proto::Frame& frame, std::string_view, Moment now, HubActions& out) {
  proto::Frame answer;
  answer.mutable_pong()->set_sent_utc_ms(frame.ping().sent_utc_ms());
  answer.mutable_pong()->set_received_utc_ms(now.utc_ms);
  answer.mutable_pong()->set_answered_utc_ms(now.utc_ms);
  send(answer, out);
}

void HubSession::nothing(const proto::Frame&, std::string_view, Moment, HubActions&) {}

void HubSession::goodbye(const proto::Frame&, std::string_view, Moment, HubActions& out) {
  state_ = State::kClosed;
  out.close = true;
}

HubActions HubSession::membership_changed(Moment) {
  HubActions out;
  if (state_ != State::kLive) return out;
  const auto record = log_->device(device_.device);
  if (!record) {
    refuse_error(record.error(), out);
  } else if (!*record || (*record)->revoked) {
    refuse(proto::REFUSAL_REVOKED,
           "the coordinator has ended this device's membership; ask them for a joining code", false,
           out);
  }
  return out;
}

HubActions HubSession::replaced(Moment) {
  HubActions out;
  refuse(proto::REFUSAL_REPLACED, "this device has connected a second time", true, out,
         kReplacedStaysAway_ms);
  return out;
}

HubActions HubSession::stop(Moment) {
  HubActions out;
  refuse(proto::REFUSAL_STOPPING, "the hub is being stopped; it will be back", true, out);
  return out;
}

HubActions HubSession::busy(Moment) {
  HubActions out;
  refuse(proto::REFUSAL_BUSY, "the hub cannot take more just now; try again later", true, out,
         kMostHandshake_ms);
  return out;
}

HubActions HubSession::tick(Moment now) {
  HubActions out;
  const bool slow = state_ != State::kLive && now.steady_ms - since_steady_ms_ > kMostHandshake_ms;
  if (slow || now.steady_ms - heard_steady_ms_ > kMostSilence_ms) {
    refuse(proto::REFUSAL_SILENT, "nothing was heard from the device for too long", true, out);
  }
  return out;
}

void HubSession::send(const proto::Frame& frame, HubActions& out) {
  out.send.push_back(encode_frame(frame));
}

void HubSession::refuse(proto::RefusalKind kind, const std::string& sentence, bool waiting_helps,
                        HubActions& out, std::int64_t retry_after_ms) {
  if (state_ == State::kClosed) return;
  proto::Frame frame;
  frame.mutable_refusal()->set_kind(kind);
  frame.mutable_refusal()->set_sentence(sentence);
  frame.mutable_refusal()->set_waiting_helps(waiting_helps);
  frame.mutable_refusal()->set_retry_after_ms(static_cast<std::uint32_t>(retry_after_ms));
  send(frame, out);
  out.close = true;
  state_ = State::kClosed;
}

void HubSession::refuse_error(const Error&, HubActions& out) {
  // What the store said is for the hub's own log: the driver has it from the store.
  refuse(proto::REFUSAL_BUSY,
         "the hub cannot read or write its disk just now; what you recorded is kept, and will be "
         "sent when that is mended",
         true, out, kMostHandshake_ms);
}

}  // namespace chipfall
