#include "tests/faults/day.h"

#include <fmt/format.h>

namespace chipfall {

namespace {

const std::string kOwnDevice = "phone";
const std::string kOtherDevice = "tablet";

/// So short a log is folded into the file many times a day.
constexpr const char* kShortLog = "PRAGMA wal_autocheckpoint = 24";

/// One of the kinds of entries, in turn.
void fill_payload(proto::Entry& entry, int turn, int text_bytes) {
  const std::string text(static_cast<std::size_t>(text_bytes), char('a' + turn % 26));
  switch (turn % 8) {
    case 0:
      entry.mutable_session_ended()->mutable_session()->set_name(text);
      break;
    case 1:
      entry.mutable_duty_done()->mutable_duty()->set_id("sweep-floor");
      entry.mutable_duty_done()->set_minutes(4.5);
      break;
    case 2:
      entry.mutable_duty_passed_on()->set_reason(text);
      break;
    case 3:
      entry.mutable_bin_seen()->set_bin("cyclone-pail");
      entry.mutable_bin_seen()->set_seen("half");
      break;
    case 4:
      entry.mutable_bin_emptied()->set_bag_replaced(true);
      break;
    case 5:
      entry.mutable_machine_out()->set_reason(text);
      break;
    case 6:
      entry.mutable_shop_closed()->set_note(text);
      break;
    default:
      entry.mutable_note()->set_text(text);
  }
}

}  // namespace

Day::Day(std::string path, FaultyDisk& disk, AfterFailure after)
    : path_(std::move(path)), disk_(disk), after_(after), promises_(kOwnDevice) {}

const std::vector<Day::Step>& Day::steps() {
  static const std::vector<Step> day = {
      {What::kReopen},          {What::kEpoch},           {What::kAppend, 1, 10},
      {What::kAppend, 1, 300},  {What::kAppend, 5, 40},   {What::kReceive, 8, 60},
      {What::kSendAgain},       {What::kAppend, 1, 6000}, {What::kReopen},
      {What::kAppend, 1, 20},   {What::kAppend, 12, 900}, {What::kReceive, 3, 2000},
      {What::kEpoch},           {What::kSendAgain},       {What::kFoldLog},
      {What::kAppend, 1, 30},   {What::kAppend, 2, 30},   {What::kReopen},
      {What::kAppend, 1, 9000}, {What::kAppend, 1, 20},
  };
  return day;
}

void Day::live() {
  for (const Step& step : steps()) {
    now_ms_ += step.what == What::kEpoch ? -90'000 : 40'000;  // the wall clock was set back
    if (!take(step) && disk_.is_cut()) return;
  }
  close();
}

bool Day::try_open() {
  store_.reset();
  LedgerOptions options;
  options.device = kOwnDevice;
  options.busy_ms = 20;
  auto opened = LedgerStore::open(path_, options);
  if (!opened) return failed(opened.error());
  store_.emplace(std::move(*opened));
  const auto shortened = store_->file().run(kShortLog);
  return shortened ? true : failed(shortened.error());
}

void Day::look() {
  if (!store_ && !try_open()) {
    if (!store_ && !disk_.is_cut()) wrong_.push_back("does not open any more");
    return;
  }
  auto broken = promises_.broken(*store_);
  if (disk_.is_cut()) return;  // what could not be read is no broken promise
  for (std::string& problem : broken) wrong_.push_back(std::move(problem));
}

/// Notes a failed call; then, unless the power is gone, ends the fault and looks.
bool Day::failed(const Error& error) {
  ++failures_;
  if (error.message.find("; ") == std::string::npos || error.place.file != path_) {
    wrong_.push_back("says not what to do: " + error.text());
  }
  if (disk_.is_cut()) return false;
  const bool was_failing = disk_.heal();
  if (!was_failing) {
    wrong_.push_back("failed on a sound disk: " + error.text());
    return false;
  }
  if (after_ == AfterFailure::kOpenAgain) store_.reset();
  look();
  return false;
}

bool Day::take(const Step& step) {
  if (step.what == What::kReopen || !store_) {
    if (!try_open() && !store_) return false;
    if (step.what == What::kReopen) return true;
  }
  switch (step.what) {
    case What::kAppend:
      return append(step);
    case What::kReceive: {
      const int batch = promises_.begin_batch(step.entries);
      sent_.clear();
      for (int i = 0; i < step.entries; ++i) {
        proto::Entry entry = next_entry(batch, i, step.text_bytes);
        entry.set_device(kOtherDevice);
        entry.set_sequence(++sent_sequence_);
        entry.mutable_clock()->set_wall_ms(now_ms_ + 1000);
        sent_.push_back(entry.SerializeAsString());
      }
      return receive(step);
    }
    case What::kSendAgain:
      return receive(step);
    case What::kEpoch: {
      const std::string epoch = fmt::format("epoch {}", ++epochs_);
      promises_.epoch_asked(epoch);
      const auto set = store_->set_epoch(epoch);
      if (!set) return failed(set.error());
      promises_.epoch_saved(epoch);
      return true;
    }
    case What::kFoldLog: {
      const auto folded = store_->file().run("PRAGMA wal_checkpoint(TRUNCATE)");
      return folded ? true : failed(folded.error());
    }
    case What::kReopen:
      break;
  }
  return true;
}

bool Day::append(const Step& step) {
  const int batch = promises_.begin_batch(step.entries);
  std::vector<proto::Entry> entries;
  for (int i = 0; i < step.entries; ++i) entries.push_back(next_entry(batch, i, step.text_bytes));
  const HybridTime before = store_->clock();
  const auto appended = store_->append(entries, now_ms_);
  if (!appended) {
    if (entries.front().sequence() != 0) wrong_.push_back("a failed append changed its entries");
    return failed(appended.error());
  }
  const proto::Entry& first = entries.front();
  if (HybridTime{first.clock().wall_ms(), first.clock().counter()} <= before) {
    wrong_.push_back("an entry is no later than the one before it");
  }
  std::vector<std::string> bytes;
  for (const proto::Entry& entry : entries) bytes.push_back(entry.SerializeAsString());
  promises_.saved(bytes);
  return true;
}

bool Day::receive(const Step&) {
  const auto received = store_->add_received(sent_, now_ms_);
  if (!received) return failed(received.error());
  for (const Received answer : *received) {
    if (answer == Received::kKnownDifferent) wrong_.push_back("a sent entry was taken for another");
  }
  promises_.saved(sent_);
  return true;
}

proto::Entry Day::next_entry(int batch, int place, int text_bytes) {
  proto::Entry entry;
  entry.set_event_utc_ms(now_ms_);
  entry.set_member(promises_.tag(batch, place));
  fill_payload(entry, made_++, text_bytes);
  return entry;
}

}  // namespace chipfall
