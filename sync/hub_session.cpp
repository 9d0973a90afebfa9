#include "sync/hub_session.h"

#include <fmt/format.h>

#include <algorithm>

#include "core/ledger/store.h"
#include "sync/batch.h"
#include "sync/reduce.h"
#include "sync/secret.h"

namespace chipfall {

namespace {

constexpr int kAnyState = -1;
constexpr std::size_t kMostLabelBytes = 100;

bool name_fits(const std::string& name) { return !name.empty() && name.size() <= kMostDeviceBytes; }

bool holds_whole(proto::Role role) {
  return role == proto::ROLE_CLOSER || role == proto::ROLE_COORDINATOR;
}

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

struct Checked {
  std::vector<std::uint64_t> sequences;
  bool sound = false;
};

/// Whether these are whole entries of `name`, after `after`, in ascending order.
Checked check_entries(const std::vector<std::string>& entries, const std::string& name,
                      std::uint64_t after) {
  Checked checked;
  for (const std::string& bytes : entries) {
    proto::Entry entry;
    if (!entry.ParseFromString(bytes) || entry.device() != name || entry.reduced()) return checked;
    if (entry.sequence() <= after || entry.sequence() > std::uint64_t(INT64_MAX)) return checked;
    after = entry.sequence();
    checked.sequences.push_back(after);
  }
  checked.sound = true;
  return checked;
}

}  // namespace

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
  const std::string verifier = *record ? (*record)->verifier : std::string(kHashBytes, '\0');
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
    // A name that was revoked may come back with a new code.
    if (*known && !(*known)->revoked) {
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

bool HubSession::of_lineage(const std::string& name) {
  if (name == device_.device) return true;
  const auto known = in_lineage_.find(name);
  if (known != in_lineage_.end()) return known->second;
  const auto record = log_->device(name);
  if (!record) return false;  // asked again next time
  return in_lineage_[name] = *record && (*record)->lineage == device_.lineage;
}

bool HubSession::may_offer(const std::string& name) {
  if (of_lineage(name)) return true;
  // Others' entries only help a log that has been restored, and only from who holds them whole.
  const auto epochs = log_->epochs();
  return epochs && epochs->size() > 1 && holds_whole(device_.role);
}

void HubSession::push(const proto::Frame& frame, std::string_view bytes, Moment, HubActions& out) {
  const proto::Push& push = frame.push();
  if (offered_bytes_ >= kPushWindow) {
    return refuse(proto::REFUSAL_OVER_CREDIT, "the device sends faster than the hub can store",
                  true, out);
  }
  if (push.number() != last_push_ + 1 || (must_rename_ && push.device() == device_.device)) {
    return refuse(proto::REFUSAL_OUT_OF_ORDER, "entries came out of order; connect again", true,
                  out);
  }
  if (!name_fits(push.device()) || !may_offer(push.device())) {
    return refuse(proto::REFUSAL_NOT_YOURS, "the device sent entries of another device", false,
                  out);
  }
  auto entries = decode_batch(push.batch());
  if (!entries) return refuse(proto::REFUSAL_DAMAGED, entries.error().message, true, out);
  Checked checked = check_entries(*entries, push.device(), push.after());
  if (!checked.sound || entries->empty()) {
    return refuse(proto::REFUSAL_NOT_YOURS,
                  "the device sent entries that are not its own, or not in order", false, out);
  }
  const auto held = log_->held(push.device());
  if (!held) return refuse_error(held.error(), out);
  std::uint64_t& through = offered_through_[push.device()];
  if (push.after() > std::max(held->through, through)) {
    return refuse(proto::REFUSAL_OUT_OF_ORDER, "entries are missing in between; connect again",
                  true, out);
  }
  through = std::max(through, checked.sequences.back());
  last_push_ = push.number();
  offered_bytes_ += bytes.size();
  const std::uint64_t ticket = next_ticket_++;
  waiting_[ticket] = {push.number(), bytes.size(), push.device(), checked.sequences};
  out.commit.push_back({ticket, push.device(), std::move(*entries), std::move(checked.sequences)});
}

HubActions HubSession::stored(std::uint64_t ticket, const OrError<Verdicts>& verdicts, Moment) {
  HubActions out;
  const auto found = waiting_.find(ticket);
  if (state_ == State::kClosed || found == waiting_.end()) return out;
  const Waiting waiting = std::move(found->second);
  waiting_.erase(found);
  offered_bytes_ -= waiting.bytes;
  if (!verdicts) {
    refuse_error(verdicts.error(), out);
    return out;
  }
  const auto held = log_->held(waiting.device);
  if (!held) {
    refuse_error(held.error(), out);
    return out;
  }
  proto::Frame answer;
  proto::Ack& ack = *answer.mutable_ack();
  ack.set_number(waiting.number);
  ack.set_through(held->through);
  ack.set_credit(waiting.bytes);
  std::uint32_t already = 0;
  for (std::size_t i = 0; i < verdicts->size() && i < waiting.sequences.size(); ++i) {
    const proto::Verdict verdict = (*verdicts)[i];
    if (verdict == proto::VERDICT_KNOWN_SAME) ++already;
    if (verdict == proto::VERDICT_NEW || verdict == proto::VERDICT_KNOWN_SAME) continue;
    proto::Exception& exception = *ack.add_exceptions();
    exception.set_sequence(waiting.sequences[i]);
    exception.set_verdict(verdict);
    exception.set_sentence(verdict == proto::VERDICT_REFUSED
                               ? "the hub cannot take this entry; show it to the coordinator"
                               : "the hub has another entry by this name");
  }
  ack.set_already_held(already);
  send(answer, out);
  return out;
}

void HubSession::pull(const proto::Frame& frame, std::string_view, Moment, HubActions& out) {
  pulling_ = true;
  sent_through_ = frame.pull().after();
  pull_credit_ = static_cast<std::int64_t>(std::min(frame.pull().credit(), kPullWindow));
  send_pages(out);
}

void HubSession::credit(const proto::Frame& frame, std::string_view, Moment, HubActions& out) {
  const auto more = static_cast<std::int64_t>(std::min(frame.credit().bytes(), kPullWindow));
  pull_credit_ = std::min(pull_credit_ + more, static_cast<std::int64_t>(kPullWindow));
  send_pages(out);
}

HubActions HubSession::log_grew(Moment) {
  HubActions out;
  if (state_ == State::kLive) send_pages(out);
  return out;
}

void HubSession::send_pages(HubActions& out) {
  if (!pulling_) return;
  const auto last = log_->last_position();
  if (!last) return refuse_error(last.error(), out);
  for (int sent = 0; sent_through_ < *last && pull_credit_ > 0; ++sent) {
    if (sent == kMostPagesAtOnce) {
      out.more = true;
      return;
    }
    if (!send_page(*last, out)) return;
  }
}

/// Up to where the device's own name is known to it: what it said at hello, and has offered since.
std::uint64_t HubSession::own_told() const {
  const auto offered = offered_through_.find(device_.device);
  const std::uint64_t said = hello_.device() == device_.device ? hello_.own_highest() : 0;
  return offered == offered_through_.end() ? said : std::max(said, offered->second);
}

/// One page; false where the session has ended over it.
bool HubSession::send_page(std::uint64_t last, HubActions& out) {
  std::vector<std::string> entries;
  std::size_t size = 0, visited = 0;
  std::uint64_t next = sent_through_;
  const std::uint64_t own_through = own_told();
  bool has_double = false;
  const auto read = log_->visit(sent_through_, [&](const LoggedEntry& entry) {
    if (++visited > kMostVisitedForPage || entries.size() == kMostBatchEntries) return false;
    if (entry.device == device_.device) {
      has_double = has_double || entry.sequence > own_through;
    } else {
      std::string bytes = of_lineage(std::string(entry.device))
                              ? std::string(entry.bytes)
                              : reduced_for(device_.role, entry.bytes);
      if (bytes.size() <= kMostBatchBytes) {  // a reduced one may have grown by its mark
        if (size + bytes.size() > kMostBatchBytes) return false;
        size += bytes.size();
        entries.push_back(std::move(bytes));
      }
    }
    next = entry.position;
    return true;
  });
  if (!read) {
    refuse_error(read.error(), out);
    return false;
  }
  if (has_double && !must_rename_) {
    // It would lack them until its next hello, at which it learns that its name has forked.
    refuse(proto::REFUSAL_REPLACED, "another phone has this one's name; connect again", true, out);
    return false;
  }
  if (next == sent_through_) return false;
  proto::Frame frame;
  proto::Page& page = *frame.mutable_page();
  page.set_after(sent_through_);
  page.set_next(next);
  page.set_last_position(last);
  if (!entries.empty()) {
    auto batch = encode_batch(entries);
    if (!batch) {
      refuse_error(batch.error(), out);
      return false;
    }
    page.set_batch(std::move(*batch));
  }
  send(frame, out);
  pull_credit_ -= static_cast<std::int64_t>(out.send.back().size());
  sent_through_ = next;
  return true;
}

void HubSession::compare(const proto::Frame& frame, std::string_view, Moment, HubActions& out) {
  const proto::Compare& compare = frame.compare();
  if (compare.hashes_size() > int(kMostCompared) || compare.first() < 1) {
    return refuse(proto::REFUSAL_TOO_LARGE, "the device compares too much at once", true, out);
  }
  if (!of_lineage(compare.device())) {
    return refuse(proto::REFUSAL_NOT_YOURS, "the device asked about another one's entries", false,
                  out);
  }
  proto::Frame answer;
  proto::Compared& compared = *answer.mutable_compared();
  compared.set_device(compare.device());
  compared.set_first(compare.first());
  std::uint64_t sequence = compare.first();
  for (const std::string& hash : compare.hashes()) {
    const auto held = log_->short_hash_of(compare.device(), sequence++);
    if (!held) return refuse_error(held.error(), out);
    compared.add_verdicts(held->empty()   ? proto::VERDICT_NEW
                          : *held == hash ? proto::VERDICT_KNOWN_SAME
                                          : proto::VERDICT_KNOWN_DIFFERENT);
  }
  send(answer, out);
}

void HubSession::rename(const proto::Frame& frame, std::string_view, Moment now, HubActions& out) {
  const proto::Rename& rename = frame.rename();
  if (!name_fits(rename.device()) || rename.verifier().size() != kHashBytes ||
      rename.device_epoch().size() > kMostDeviceBytes || rename.device() == device_.device) {
    return refuse(proto::REFUSAL_DAMAGED, "the device's new name is not whole; connect again", true,
                  out);
  }
  const auto known = log_->device(rename.device());
  if (!known) return refuse_error(known.error(), out);
  const bool again = *known && (*known)->lineage == device_.lineage && !(*known)->revoked &&
                     same_secret((*known)->verifier, rename.verifier());
  if (*known && !again) {
    return refuse(proto::REFUSAL_NOT_YOURS, "another device has this name already", true, out);
  }
  HubDevice renamed = device_;
  renamed.device = rename.device();
  renamed.verifier = rename.verifier();
  renamed.epoch = rename.device_epoch();
  renamed.joined_utc_ms = now.utc_ms;
  if (!again) {
    const auto kept = log_->put_device(renamed);
    if (!kept) return refuse_error(kept.error(), out);
  }
  device_ = std::move(renamed);
  in_lineage_.clear();
  must_rename_ = false;
  pulling_ = false;  // until the device says from where
  proto::Frame answer;
  answer.mutable_renamed()->set_device(device_.device);
  send(answer, out);
}

void HubSession::holdings(const proto::Frame& frame, std::string_view, Moment, HubActions& out) {
  const proto::Holdings& holdings = frame.holdings();
  if (holdings.highest_size() > kMostHoldings) {
    return refuse(proto::REFUSAL_TOO_LARGE, "the device offers too much at once", true, out);
  }
  proto::Frame answer;
  proto::Lacking& lacking = *answer.mutable_lacking();
  for (const proto::EntryName& name : holdings.highest()) {
    if (!name_fits(name.device()) || !may_offer(name.device())) continue;
    const auto held = log_->held(name.device());
    if (!held) return refuse_error(held.error(), out);
    if (held->through >= name.sequence()) continue;
    proto::EntryName& wanted = *lacking.add_held();
    wanted.set_device(name.device());
    wanted.set_sequence(held->through);
  }
  send(answer, out);
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
