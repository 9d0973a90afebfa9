#include "preview/window/demo_hub.h"

#include <chrono>
#include <random>

#include "sync/join_code.h"
#include "sync/secret.h"

namespace chipfall::window {
namespace {

constexpr const char* kBinding = "on the desk";  ///< both ends of a wire see the same one
constexpr std::uint16_t kPort = 8443;            ///< nobody listens there; a code needs one

std::string random_bytes(std::size_t count) {
  std::random_device source;
  std::string out(count, '\0');
  for (char& byte : out) byte = static_cast<char>(source());
  return out;
}

}  // namespace

DemoHub::DemoHub(Device::Clock clock, const std::string& shop)
    : clock_(std::move(clock)),
      log_(shop, random_bytes(16)),
      key_(random_bytes(kFingerprintBytes)) {
  place_.find_shop = [this](const std::string& name) {
    return name == log_.shop() ? &log_ : nullptr;
  };
  place_.find_code = [this](const std::string& hash) -> HubLog* {
    const auto found = log_.join_code(hash);
    return found && *found ? &log_ : nullptr;
  };
  place_.guesses = &guesses_;
}

Wire& DemoHub::plug(Device& device, const std::string& name) {
  wires_.emplace_back(&device, std::make_unique<Wire>(*this, device, name));
  return *wires_.back().second;
}

Wire* DemoHub::wire_of(const Device& device) {
  for (auto& [of, wire] : wires_) {
    if (of == &device) return wire.get();
  }
  return nullptr;
}

void DemoHub::look() {
  for (auto& [device, wire] : wires_) wire->look();
}

std::string DemoHub::code(proto::Role role) {
  const std::string secret = random_bytes(kJoinSecretBytes);
  const auto put = log_.put_join_code({sha256(secret), role, clock_() + kJoinCodeLasts_ms, ""});
  const auto text = join_code_text({"HUB.EXAMPLE", kPort, key_, secret});
  return put && text ? *text : "";
}

Moment DemoHub::now() {
  using std::chrono::duration_cast;
  using std::chrono::milliseconds;
  const auto steady = std::chrono::steady_clock::now().time_since_epoch();
  return {clock_(), duration_cast<milliseconds>(steady).count()};
}

std::string DemoHub::chance(std::size_t bytes) { return random_bytes(bytes); }

void DemoHub::grew() {
  for (auto& [device, wire] : wires_) wire->log_grew();
}

Wire::Wire(DemoHub& hub, Device& device, std::string name)
    : hub_(hub), device_(device), name_(std::move(name)) {}

void Wire::join(proto::Role role) {
  proto::Request request;
  request.mutable_join()->set_code(hub_.code(role));
  request.mutable_join()->set_begin(true);
  request.mutable_join()->set_label(name_);
  device_.ask(request, [this](const Result<proto::Response>& came) {
    if (!came) {
      trouble_ = came.error().front().message;
      return;
    }
    joined_ = true;
    if (!offline_) connect();
  });
}

void Wire::set_offline(bool offline) {
  if (offline == offline_) return;
  offline_ = offline;
  if (offline) hang_up();
  if (!offline && joined_) connect();
}

void Wire::connect() {
  ++connection_;
  trouble_.clear();
  session_ = std::make_unique<HubSession>(hub_.place_, name_, kBinding, hub_.chance(kNonceBytes),
                                          hub_.now());
  proto::SyncEvent event;
  event.mutable_opened()->set_channel_binding(kBinding);
  event.mutable_opened()->set_fingerprint(hub_.key_);
  ask(std::move(event));
}

void Wire::hang_up() {
  if (!session_) return;
  session_.reset();
  ++connection_;
  proto::SyncEvent event;
  event.mutable_closed();
  ask(std::move(event));
}

void Wire::ask(proto::SyncEvent event) {
  event.set_steady_ms(hub_.now().steady_ms);
  proto::Request request;
  *request.mutable_sync() = std::move(event);
  device_.ask(request, [this, connection = connection_](const Result<proto::Response>& came) {
    if (!came) {
      trouble_ = came.error().front().message;
      return;
    }
    if (came->has_sync()) state_ = came->sync().state();
    if (connection == connection_) step(came->sync());
  });
}

void Wire::step(const proto::SyncStep& step) {
  if (state_.has_refusal()) trouble_ = state_.refusal().sentence();
  for (const std::string& message : step.send()) {
    if (!session_) return;
    act(session_->receive(message, hub_.now()));
  }
  if (step.close()) hang_up();
}

void Wire::act(const HubActions& actions) {
  for (const std::string& message : actions.send) {
    proto::SyncEvent event;
    event.set_message(message);
    ask(std::move(event));
  }
  for (const Offer& offer : actions.commit) {
    const OrError<std::vector<Verdicts>> verdicts =
        hub_.log_.commit({&offer, 1}, hub_.now().utc_ms);
    if (!session_) return;
    act(session_->stored(offer.ticket,
                         verdicts ? OrError<Verdicts>(verdicts->front())
                                  : OrError<Verdicts>(tl::unexpected(verdicts.error())),
                         hub_.now()));
    hub_.grew();
  }
  if (actions.more) log_grew();
  if (actions.close) hang_up();
}

void Wire::log_grew() {
  if (session_ && session_->state() == HubSession::State::kLive)
    act(session_->log_grew(hub_.now()));
}

void Wire::look() {
  const std::uint64_t now = device_.changes();
  if (now == seen_changes_) return;
  seen_changes_ = now;
  if (!joined_) return;
  proto::SyncEvent event;
  event.mutable_passed();
  ask(std::move(event));
}

}  // namespace chipfall::window
