#include "tests/faults/hub_day.h"

#include <fmt/format.h>

namespace chipfall {

namespace {

constexpr std::int64_t kNow_ms = 1'780'000'000'000;  // in 2026
const std::string kEpoch(kEpochBytes, 'e');
const HubJoinCode kCode{std::string(32, 'h'), proto::ROLE_CLOSER, kNow_ms + 900'000, ""};
const HubDevice kDevice{"tablet", "tablet", "verifier", proto::ROLE_CLOSER, "", "", kNow_ms, false};

HubStoreOptions options() {
  HubStoreOptions quick;
  quick.busy_ms = 20;
  return quick;
}

}  // namespace

HubDay::HubDay(std::string path, FaultyDisk& disk) : path_(std::move(path)), disk_(disk) {
  const auto made = SqliteHubLog::create(path_, "otter-bend", "Otter Bend", kEpoch, options());
  if (!made) complain("no shop: " + made.error().text());
  disk_.renamed(path_ + ".new", path_);
}

void HubDay::live() {
  static const std::vector<Step> day = {
      {What::kReopen},
      {What::kCode},
      {What::kCommit, 1, 1, 10},
      {What::kCommit, 2, 3, 40},
      {What::kRedeem},
      {What::kOfferAgain},
      {What::kCommit, 3, 5, 90},
      {What::kFold},
      {What::kCommit, 1, 1, 9000},
      {What::kReopen},
      {What::kOfferAgain},
      {What::kCommit, 2, 8, 600},
      {What::kRevoke},
      {What::kFold},
      {What::kCommit, 1, 2, 20},
      {What::kEpoch},
      {What::kCommit, 3, 1, 20},
      {What::kReopen},
      {What::kCommit, 1, 1, 20},
      {What::kOfferAgain},
  };
  for (const Step& step : day) {
    if (!take(step) && disk_.is_cut()) return;
  }
  close();
}

bool HubDay::try_open() {
  log_.reset();
  auto opened = SqliteHubLog::open(path_, options());
  if (!opened) return failed(opened.error());
  log_ = std::move(*opened);
  return true;
}

void HubDay::look() {
  if (!log_ && !try_open()) {
    if (!log_ && !disk_.is_cut()) complain("does not open any more");
    return;
  }
  hold_against_answers();
}

bool HubDay::failed(const Error& error) {
  ++failures_;
  if (error.message.empty()) complain("an error without words");
  if (disk_.is_cut()) return false;
  if (log_) {
    said_full_ += log_->disk_full();
    // Phones that only fetch are served meanwhile.
    const std::size_t before = wrong_.size();
    hold_entries();
    if (wrong_.size() == before) ++read_while_failing_;
    if (!reads_must_work_) wrong_.resize(before);
  }
  if (!disk_.heal()) {
    complain("failed on a sound disk: " + error.text());
    return false;
  }
  look();
  return false;
}

bool HubDay::take(const Step& step) {
  if (step.what == What::kReopen || !log_) {
    if (!try_open() && !log_) return false;
    if (step.what == What::kReopen) return true;
  }
  switch (step.what) {
    case What::kCommit:
      return commit(offers(step));
    case What::kOfferAgain:
      return commit(last_);
    case What::kCode: {
      const bool saved = done(log_->add_join_code(kCode, kNow_ms));
      code_saved_ = code_saved_ || saved;
      return saved;
    }
    case What::kRedeem: {
      if (!code_saved_ || redeemed_) return true;
      redeemed_ = done(log_->redeem(kCode, kDevice));
      return redeemed_;
    }
    case What::kRevoke: {
      const auto revoked = log_->revoke(kDevice.device);
      if (!revoked) return failed(revoked.error());
      revoked_ = revoked_ || (*revoked && redeemed_);
      return true;
    }
    case What::kEpoch:
      return done(log_->begin_epoch(fmt::format("epoch {:10}", ++made_)));
    case What::kFold:
      return done(log_->fold_wal());
    case What::kReopen:
      break;
  }
  return true;
}

std::vector<Offer> HubDay::offers(const Step& step) {
  last_.clear();
  for (int phone = 0; phone < step.phones; ++phone) {
    Offer& offer = last_.emplace_back();
    offer.device = fmt::format("phone {}", phone);
    for (int i = 0; i < step.entries; ++i) {
      offer.sequences.push_back(++sequences_[offer.device]);
      offer.entries.push_back(fmt::format("{:0{}}", ++made_, step.text_bytes));
    }
  }
  return last_;
}

bool HubDay::commit(std::vector<Offer> offers) {
  const int number = int(entries_of_commit_.size());
  for (const Offer& offer : offers) {
    for (std::size_t i = 0; i < offer.entries.size(); ++i) {
      const Name name{offer.device, offer.sequences[i]};
      if (!made_bytes_.emplace(name, offer.entries[i]).second) continue;
      commit_of_[name] = number;
      ++entries_of_commit_[number];
    }
  }
  const auto answers = log_->commit(offers, kNow_ms);
  if (!answers) return failed(answers.error());
  for (std::size_t o = 0; o < offers.size(); ++o) {
    for (std::size_t i = 0; i < offers[o].entries.size(); ++i) {
      const proto::Verdict verdict = (*answers)[o][i];
      if (verdict != proto::VERDICT_NEW && verdict != proto::VERDICT_KNOWN_SAME) {
        complain("an entry was refused, or taken for another");
      }
      acknowledged_.insert({offers[o].device, offers[o].sequences[i]});
    }
  }
  return true;
}

/// Acknowledged entries are there, each commit whole or not at all, and nobody's place has changed.
void HubDay::hold_entries() {
  std::set<Name> here;
  std::map<int, int> commits;
  std::uint64_t expected = 1;
  const auto read = log_->visit(0, [&](const LoggedEntry& entry) {
    const Name name{std::string(entry.device), entry.sequence};
    const auto made = made_bytes_.find(name);
    if (made == made_bytes_.end() || made->second != entry.bytes) complain("an invented entry");
    if (entry.position != expected++) complain("positions have a gap");
    const auto [seen, is_new] = positions_.emplace(entry.position, name);
    if (!is_new && seen->second != name) complain("an entry that was seen has left its place");
    if (is_new && acknowledged_.count(name) == 0) ++found_unacknowledged_;
    here.insert(name);
    if (made != made_bytes_.end()) ++commits[commit_of_[name]];
    return true;
  });
  if (!read) return complain("cannot be read: " + read.error().text());
  for (const Name& name : acknowledged_) {
    if (here.count(name) == 0) complain(name.first + ": an acknowledged entry is lost");
  }
  for (const auto& [commit, entries] : commits) {
    if (entries != entries_of_commit_[commit]) complain("half a commit is there");
  }
  const auto last = log_->last_position();
  if (last && *last != here.size()) complain("the last position is not that of the last entry");
  if (!positions_.empty() && positions_.rbegin()->first > here.size()) {
    complain("an entry that was seen is gone");
  }
}

void HubDay::hold_against_answers() {
  hold_entries();
  const auto sound = log_->check();
  const auto device = log_->device(kDevice.device);
  const auto code = log_->join_code(kCode.secret_hash);
  if (disk_.is_cut()) return;  // what could not be read is no broken promise
  if (!sound) complain(sound.error().text());
  if (!device) return complain(device.error().text());
  if (!code) return complain(code.error().text());
  if (redeemed_ && !*device) complain("a device that joined is gone");
  if (revoked_ && *device && !(*device)->revoked) complain("a revoked device is a member again");
  if (code_saved_ && !*code) complain("a code is gone");
  // Both or neither.
  const bool used = *code && !(*code)->used_by.empty();
  if (used != device->has_value()) complain("a code was used by nobody, or a device has no code");
  redeemed_ = redeemed_ || used;
}

}  // namespace chipfall
