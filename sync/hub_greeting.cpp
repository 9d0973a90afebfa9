#include <algorithm>

#include "core/ledger/store.h"
#include "sync/hub_session.h"
#include "sync/secret.h"

/// A hub lets a device in: by its proof, or with a joining code.
namespace chipfall {

namespace {

constexpr std::size_t kMostLabelBytes = 100;

/// The cursor of a device that last saw `epoch`, in the log as it is now.
std::uint64_t resume_after(const std::vector<HubEpoch>& epochs, const std::string& epoch,
                           std::uint64_t cursor, std::uint64_t last) {
  const auto seen = std::find_if(epochs.begin(), epochs.end(),
                                 [&](const HubEpoch& known) { return known.id == epoch; });
  if (seen == epochs.end()) return 0;
  std::uint64_t resume = cursor;
  for (auto later = seen + 1; later != epochs.end(); ++later) {
    resume = std::min(resume, later->began_after);
  }
  // Further than the log in its own epoch: it lost entries without noticing. From the beginning.
  return resume > last ? 0 : resume;
}

}  // namespace

void HubSession::hello(const proto::Frame& frame, std::string_view bytes, Moment now,
                       HubActions& out) {
  hello_ = frame.hello();
  hello_bytes_ = bytes.substr(kFrameSumBytes);
  const auto version = common_version(hello_.versions(), own_versions());
  if (!version) {
    const bool device_is_old = hello_.versions().newest() < kOldestProtocol;
    refuse(device_is_old ? proto::REFUSAL_UPDATE_DEVICE : proto::REFUSAL_UPDATE_HUB,
           device_is_old ? "this device's Chipfall is too old for the hub: update it; what it "
                           "recorded is kept and will be sent then"
                         : "the hub's Chipfall is too old for this device: the coordinator should "
                           "update it; what you record is kept and will be sent then",
           !device_is_old, out, 60 * 60'000);
    return;
  }
  if (!name_fits(hello_.device()) || hello_.nonce().size() != kNonceBytes ||
      hello_.device_epoch().size() > kMostDeviceBytes) {
    refuse(proto::REFUSAL_DAMAGED, "the device did not say who it is; connect again", true, out);
    return;
  }
  if (const auto wait = place_->guesses->wait_ms(source_, now.steady_ms); wait > 0) {
    refuse(proto::REFUSAL_TOO_MANY_TRIES, "too many tries failed from here; wait a little", true,
           out, wait);
    return;
  }
  log_ = place_->find_shop(hello_.shop());
  if (!log_) {
    refuse(proto::REFUSAL_WRONG_SHOP,
           "this hub does not know that shop; ask the coordinator for a new joining code", false,
           out);
    return;
  }
  proto::Frame answer;
  answer.mutable_challenge()->set_version(*version);
  answer.mutable_challenge()->set_nonce(nonce_);
  send(answer, out);
  challenge_bytes_ = out.send.back().substr(kFrameSumBytes);
  state_ = State::kProof;
}

void HubSession::proof(const proto::Frame& frame, std::string_view, Moment now, HubActions& out) {
  const auto record = log_->device(hello_.device());
  if (!record) return refuse_error(record.error(), out);
  // An unknown device costs the same work as a known one.
  const std::string verifier = *record ? (*record)->verifier : no_verifier();
  const bool holds = proof_holds(verifier, frame.proof().proof(),
                                 {hello_bytes_, challenge_bytes_, channel_binding_});
  if (!*record || !holds) {
    place_->guesses->failed(source_, now.steady_ms);
    refuse(proto::REFUSAL_NOT_A_MEMBER,
           "the hub does not know this device; ask the coordinator for a joining code. What you "
           "recorded is kept",
           false, out);
    return;
  }
  if ((*record)->revoked) {
    refuse(proto::REFUSAL_REVOKED,
           "the coordinator has ended this device's membership; ask them for a joining code", false,
           out);
    return;
  }
  device_ = **record;
  welcome(now, out);
}

void HubSession::welcome(Moment now, HubActions& out) {
  const auto held = log_->held(device_.device);
  if (!held) return refuse_error(held.error(), out);
  const auto epochs = log_->epochs();
  if (!epochs) return refuse_error(epochs.error(), out);
  const auto last = log_->last_position();
  if (!last) return refuse_error(last.error(), out);
  if (device_.epoch.empty() && !hello_.device_epoch().empty()) {
    device_.epoch = hello_.device_epoch();
    const auto kept = log_->put_device(device_);
    if (!kept) return refuse_error(kept.error(), out);
  }
  must_rename_ = hello_.own_highest() < held->through || hello_.device_epoch() != device_.epoch;

  proto::Frame answer;
  proto::Welcome& welcome = *answer.mutable_welcome();
  welcome.set_hub_epoch(epochs->back().id);
  welcome.set_resume_after(resume_after(*epochs, hello_.hub_epoch(), hello_.cursor(), *last));
  welcome.set_role(device_.role);
  welcome.set_held_through(held->through);
  welcome.set_held_hash(held->hash);
  welcome.set_take_new_name(must_rename_);
  welcome.set_push_credit(kPushWindow);
  welcome.set_last_position(*last);
  welcome.set_hub_utc_ms(now.utc_ms);
  send(answer, out);
  state_ = State::kLive;
}

void HubSession::join(const proto::Frame& frame, std::string_view, Moment now, HubActions& out) {
  const proto::Join& join = frame.join();
  const auto refuse_code = [&](proto::RefusalKind kind, const char* sentence) {
    place_->guesses->failed(source_, now.steady_ms);
    refuse(kind, sentence, false, out);
  };
  if (const auto wait = place_->guesses->wait_ms(source_, now.steady_ms); wait > 0) {
    return refuse(proto::REFUSAL_TOO_MANY_TRIES, "too many codes failed from here; wait a little",
                  true, out, wait);
  }
  if (!common_version(join.versions(), own_versions())) {
    return refuse(proto::REFUSAL_UPDATE_DEVICE,
                  "device and hub are of versions too far apart: update the older one", false, out);
  }
  if (!name_fits(join.device()) || join.verifier().size() != kHashBytes ||
      join.device_epoch().size() > kMostDeviceBytes || join.label().size() > kMostLabelBytes) {
    return refuse(proto::REFUSAL_DAMAGED, "the device's request to join is not whole; try again",
                  true, out);
  }
  const std::string hash = sha256(join.secret());
  HubLog* log = place_->find_code(hash);
  if (!log) {
    return refuse_code(proto::REFUSAL_CODE_WRONG,
                       "the hub does not know this code; check it or ask for a new one");
  }
  const auto code = log->join_code(hash);
  if (!code) return refuse_error(code.error(), out);
  const auto known = log->device(join.device());
  if (!known) return refuse_error(known.error(), out);
  const bool again = *known && *code && (*code)->used_by == join.device() &&
                     same_secret((*known)->verifier, join.verifier()) && !(*known)->revoked;
  if (!*code) return refuse_code(proto::REFUSAL_CODE_WRONG, "the hub does not know this code");
  if (!again) {
    if (!(*code)->used_by.empty()) {
      return refuse_code(proto::REFUSAL_CODE_USED,
                         "this code was used already; ask the coordinator for a new one");
    }
    if (now.utc_ms > (*code)->expires_utc_ms) {
      return refuse_code(proto::REFUSAL_CODE_EXPIRED,
                         "this code is too old; ask the coordinator for a new one");
    }
    // A name that was revoked may come back with a new code, unless nobody ever joined by it.
    if (*known && (!(*known)->revoked || same_secret((*known)->verifier, no_verifier()))) {
      return refuse_code(proto::REFUSAL_NOT_YOURS, "another device has this name already");
    }
    const std::string lineage = *known ? (*known)->lineage : join.device();
    const auto redeemed =
        log->redeem(**code, {join.device(), lineage, join.verifier(), (*code)->role,
                             join.device_epoch(), join.label(), now.utc_ms, false});
    if (!redeemed) return refuse_error(redeemed.error(), out);
  }
  const auto epochs = log->epochs();
  if (!epochs) return refuse_error(epochs.error(), out);
  proto::Frame answer;
  answer.mutable_joined()->set_shop(log->shop());
  answer.mutable_joined()->set_shop_name(log->shop_name());
  answer.mutable_joined()->set_role((*code)->role);
  answer.mutable_joined()->set_hub_epoch(epochs->back().id);
  send(answer, out);
}

}  // namespace chipfall
