#include <algorithm>

#include "core/ledger/store.h"
#include "sync/batch.h"
#include "sync/hub_session.h"
#include "sync/reduce.h"
#include "sync/secret.h"

/// What a hub takes from a device: entries, comparisons, a new name, what a restored log lacks.
namespace chipfall {

namespace {

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
  waiting_[ticket] = {push.number(), bytes.size(), push.device(), checked.sequences, {}};
  std::shared_ptr<OneLine> line;
  if (of_lineage(push.device())) {
    line = lines_.try_emplace(push.device(), std::make_shared<OneLine>()).first->second;
  }
  out.commit.push_back(
      {ticket, push.device(), std::move(*entries), std::move(checked.sequences), std::move(line)});
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
  if (waiting.compare) {
    comparing_ = false;
    answer_compare(*waiting.compare, out);
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

void HubSession::compare(const proto::Frame& frame, std::string_view, Moment, HubActions& out) {
  const proto::Compare& compare = frame.compare();
  if (compare.hashes_size() > int(kMostCompared) || compare.first() < 1) {
    return refuse(proto::REFUSAL_TOO_LARGE, "the device compares too much at once", true, out);
  }
  if (!of_lineage(compare.device())) {
    return refuse(proto::REFUSAL_NOT_YOURS, "the device asked about another one's entries", false,
                  out);
  }
  if (comparing_) {
    return refuse(proto::REFUSAL_OUT_OF_ORDER, "the device asked again before it was answered",
                  true, out);
  }
  // In the same queue as entries: what this connection, or a double's that it replaced, has offered
  // is in the log before the answer is read from it, and so never counted as lacking.
  comparing_ = true;
  lines_.erase(compare.device());
  const std::uint64_t ticket = next_ticket_++;
  waiting_[ticket] = {0, 0, compare.device(), {}, compare};
  out.commit.push_back({ticket, compare.device(), {}, {}, nullptr});
}

void HubSession::answer_compare(const proto::Compare& compare, HubActions& out) {
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

}  // namespace chipfall
