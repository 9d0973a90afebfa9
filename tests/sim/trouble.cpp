#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "core/ledger/view_tables.h"
#include "tests/sim/sure.h"
#include "tests/sim/world.h"

/// What goes wrong, and what is recorded meanwhile.
namespace chipfall::sim {

namespace fs = std::filesystem;

namespace {

constexpr std::pair<const char*, int Sometimes::*> kCounted[] = {
    {"acknowledgements lost", &Sometimes::ack_lost},
    {"sent again", &Sometimes::resent},
    {"new names", &Sometimes::renamed},
    {"hubs restored", &Sometimes::hub_restored},
    {"entries parked", &Sometimes::parked},
    {"replays refused", &Sometimes::replay_refused},
    {"turned bits seen", &Sometimes::bit_flip_seen},
    {"commits failed", &Sometimes::commit_failed},
    {"clocks measured", &Sometimes::clock_measured},
    {"batches for others", &Sometimes::relayed},
    {"moves to new names", &Sometimes::moved},
    {"looks at views", &Sometimes::looked},
    {"views outdated", &Sometimes::views_outdated},
    {"killed before views caught up", &Sometimes::killed_before_views},
    {"copies of copies", &Sometimes::copied_again},
    {"pages", &Sometimes::pages}};

}  // namespace

Sometimes& Sometimes::operator+=(const Sometimes& other) {
  for (const auto& [name, count] : kCounted) this->*count += other.*count;
  return *this;
}

std::string Sometimes::text() const {
  std::string text;
  for (const auto& [name, count] : kCounted) text += fmt::format("{} {}, ", name, this->*count);
  return text + "over all seeds";
}

void World::append(Phone& phone, int count) {
  std::vector<proto::Entry> entries;
  const Below chance = [this](std::uint32_t bound) { return below(bound); };
  for (int i = 0; i < count; ++i) {
    entries.push_back(some_entry(*phone.store, fmt::format("token {}", made_++), chance));
    entries.back().set_event_utc_ms(phone_now(phone).utc_ms);
  }
  sure(phone.store->append(entries, phone_now(phone).utc_ms));
  for (const proto::Entry& entry : entries) {
    const std::string token = token_of(entry.SerializeAsString());
    promised_.insert(token);
    made_by_[token] = phone.state->device();
  }
  apply(phone, phone.machine->look(phone_now(phone)));
}

void World::record(Phone& phone, proto::Entry entry) {
  entry.set_event_utc_ms(phone_now(phone).utc_ms);
  sure(phone.store->append(entry, phone_now(phone).utc_ms));
  const std::string token = token_of(entry.SerializeAsString());
  if (!token.empty()) {
    promised_.insert(token);
    made_by_[token] = phone.state->device();
  }
  apply(phone, phone.machine->look(phone_now(phone)));
}

void World::cut(Phone& phone) {
  if (!phone.link) return;
  if (phone.link->to_phone.size() > 30) ++reached.ack_lost;
  drop(phone);
}

void World::crash_phone(Phone& phone) {
  if (phone.views) {
    const auto position = sure(view_position(phone.store->file()));
    reached.killed_before_views += position == kViewsOutdated;
  }
  cut(phone);
  close(phone);
  open(phone);
}

void World::crash_hub() {
  queue_.clear();
  for (const auto& phone : phones_) cut(*phone);
  log_->crash();
}

/// The hub finds something wrong with what the phone records next, and always will.
void World::refuse_next(Phone& phone) {
  refused_.insert({phone.state->device(), sure(phone.state->own_highest()) + 1});
  log_->refuses = [this](const std::string& device, std::uint64_t sequence) {
    return refused_.count({device, sequence}) > 0;
  };
}

/// Whether what this phone is copied with is of a copy, and not at the hub: then its copies meet
/// the hub with the same entries, and must give them the same names.
void World::count_copy(const Phone& phone) {
  reached.copied_again += phone.copied && sure(phone.state->outbox()).waiting > 0;
}

void World::backup(Phone& phone) {
  count_copy(phone);
  close(phone);  // so that the file alone is whole
  phone.backup_path = fmt::format("{}/backup-{}", folder_, files_++);
  fs::copy_file(phone.path, phone.backup_path);
  open(phone);
}

void World::restore(Phone& phone, bool notices) {
  if (phone.backup_path.empty()) return;
  close(phone);
  fs::copy_file(phone.backup_path, phone.path, fs::copy_options::overwrite_existing);
  if (notices) phone.installation = bytes(8);
  phone.last_epoch.clear();
  open(phone);
  phone.copied = true;
  forget_lost();
}

void World::clone(Phone& phone, bool notices) {
  count_copy(phone);
  close(phone);
  phones_.push_back(std::make_unique<Phone>());
  Phone& second = *phones_.back();
  second.path = fmt::format("{}/phone-{}", folder_, files_++);
  second.installation = notices ? bytes(8) : phone.installation;
  second.role = phone.role;
  phone.copied = second.copied = true;
  fs::copy_file(phone.path, second.path);
  open(phone);
  open(second);
}

void World::restore_hub(std::uint64_t positions) {
  ++reached.hub_restored;
  queue_.clear();
  for (const auto& phone : phones_) cut(*phone);
  log_->restore(positions, bytes(16));
  forget_lost();
}

/// What went with a phone or a hub and is nowhere else cannot come back.
void World::forget_lost() {
  std::set<std::string> kept;
  for (const auto& phone : phones_) kept.merge(tokens_of(*phone));
  for (const auto& [name, entry] : whole_log()) kept.insert(entry.token);
  std::erase_if(promised_, [&](const std::string& token) { return kept.count(token) == 0; });
}

/// Cursors of one epoch and name never go back.
void World::watch(Phone& phone) {
  const SyncPlace& place = phone.state->place();
  if (place.hub_epoch == phone.last_epoch && phone.state->device() == phone.last_device) {
    if (place.cursor < phone.last_cursor || place.acked < phone.last_acked) {
      wrong_ += "a cursor went back; ";
    }
  }
  phone.last_epoch = place.hub_epoch;
  phone.last_device = phone.state->device();
  phone.last_cursor = place.cursor;
  phone.last_acked = place.acked;
}

/// Somebody plays what a phone once said to the hub.
void World::replay() {
  if (recordings_.empty()) return;
  const auto& recording = recordings_[below(std::uint32_t(recordings_.size()))];
  const std::string nonce = bytes(32), binding = bytes(32);
  HubSession session(place_, "replayer", binding, nonce, hub_now());
  for (const std::string& frame : recording) {
    const HubActions actions = session.receive(frame, hub_now());
    if (!actions.commit.empty()) wrong_ += "a replay was taken; ";
  }
  if (session.state() == HubSession::State::kLive) wrong_ += "a replay is a member; ";
  ++reached.replay_refused;
}

void World::trouble() {
  Phone& phone = *phones_[below(std::uint32_t(phones_.size()))];
  if (happens(weather_.cut)) cut(phone);
  if (happens(weather_.flip) && phone.link && !phone.link->to_hub.empty()) {
    std::string& bytes = phone.link->to_hub;
    char& byte = bytes[below(std::uint32_t(bytes.size()))];
    byte = static_cast<char>(byte ^ (1 << below(8)));
  }
  if (happens(weather_.phone_crash)) crash_phone(phone);
  if (happens(weather_.hub_crash)) crash_hub();
  if (happens(weather_.hub_full)) log_->failing_commits = int(below(4));
  if (happens(weather_.backup_phone)) backup(phone);
  if (happens(weather_.restore_phone)) restore(phone, weather_.notices_copy);
  if (happens(weather_.clone_phone) && phones_.size() < 8) clone(phone, weather_.notices_copy);
  if (happens(weather_.clone_copy) && phones_.size() < 8) {
    const auto waits = [](const auto& one) {
      return one->copied && sure(one->state->outbox()).waiting > 0;
    };
    const auto copy = std::find_if(phones_.rbegin(), phones_.rend(), waits);
    if (copy != phones_.rend()) clone(**copy, weather_.notices_copy && below(2) == 0);
  }
  if (happens(weather_.restore_hub)) {
    restore_hub(below(std::uint32_t(sure(log_->last_position())) + 1));
  }
  if (happens(weather_.clock_jump)) {
    phone.clock_off_ms = (std::int64_t(below(1461)) - 730) * 86'400'000;
  }
  if (happens(weather_.replay)) replay();
  if (happens(8)) phone.online = !phone.online;
  if (happens(weather_.refuse_entry)) refuse_next(phone);
  if (happens(weather_.append)) append(phone, 1 + int(below(5)));
  if (happens(weather_.append_many)) append(phone, 300);
  if (happens(weather_.look)) look(phone);
}

}  // namespace chipfall::sim
