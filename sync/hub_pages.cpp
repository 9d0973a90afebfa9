#include <algorithm>

#include "sync/batch.h"
#include "sync/hub_session.h"
#include "sync/reduce.h"

/// What a hub sends a device: pages of its log, as its role and its credit allow.
namespace chipfall {

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

}  // namespace chipfall
