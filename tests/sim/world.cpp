#include "tests/sim/world.h"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>

#include "sync/batch.h"
#include "sync/secret.h"

namespace chipfall::sim {

namespace {

namespace fs = std::filesystem;

constexpr std::int64_t kStart_utc_ms = 1'780'000'000'000;

/// In memory where the system offers it: the runs sync often.
std::string make_folder() {
  const std::string base = fs::exists("/dev/shm") ? "/dev/shm" : fs::temp_directory_path().string();
  std::string name = base + "/chipfall-sim-XXXXXX";
  if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no folder for the run");
  return name;
}

template <typename T>
T sure(OrError<T> result) {
  if (!result) throw std::runtime_error(result.error().text());
  if constexpr (!std::is_void_v<T>) return std::move(*result);
}

/// Every entry says something that no other says, in a field that no role is denied.
std::string token_of(std::string_view bytes) {
  proto::Entry entry;
  entry.ParseFromArray(bytes.data(), int(bytes.size()));
  if (entry.has_note()) return entry.note().text();
  if (entry.has_duty_done()) return entry.duty_done().duty().id();
  return {};
}

}  // namespace

/// One connection. Bytes on their way, both directions, as a stream.
struct World::Link {
  Link(HubPlace& place, std::string source, std::string binding, std::string nonce, Moment now)
      : channel_binding(binding),
        session(place, std::move(source), std::move(binding), std::move(nonce), now) {}
  std::string channel_binding;
  HubSession session;
  std::string to_hub, to_phone;
  FrameStream at_hub, at_phone;
  bool hub_closed = false, phone_closed = false;
  std::vector<std::string> recorded;
};

Sometimes& Sometimes::operator+=(const Sometimes& other) {
  ack_lost += other.ack_lost;
  resent += other.resent;
  renamed += other.renamed;
  hub_restored += other.hub_restored;
  parked += other.parked;
  replay_refused += other.replay_refused;
  bit_flip_seen += other.bit_flip_seen;
  commit_failed += other.commit_failed;
  clock_measured += other.clock_measured;
  relayed += other.relayed;
  moved += other.moved;
  return *this;
}

World::World(std::uint32_t seed, const Weather& weather)
    : random_(seed), weather_(weather), folder_(make_folder()) {
  log_ = std::make_unique<MemoryLog>("otter-bend", bytes(16));
  log_->forgetful = weather.forgetful_hub;
  place_.find_shop = [this](const std::string& shop) {
    return shop == log_->shop() ? log_.get() : nullptr;
  };
  place_.find_code = [this](const std::string& hash) {
    return sure(log_->join_code(hash)) ? log_.get() : nullptr;
  };
  place_.guesses = &guesses_;
  for (int i = 0; i < weather.phones; ++i) {
    add_phone(i < weather.members ? proto::ROLE_MEMBER : proto::ROLE_CLOSER);
  }
}

World::~World() {
  phones_.clear();
  std::error_code ignored;
  fs::remove_all(folder_, ignored);
}

Moment World::phone_now(const Phone& phone) const {
  return {kStart_utc_ms + now_ms_ + phone.clock_off_ms, now_ms_ + 1};
}

Moment World::hub_now() const { return {kStart_utc_ms + now_ms_, now_ms_ + 1}; }

std::string World::bytes(std::size_t count) {
  std::string made(count, '\0');
  for (char& byte : made) byte = static_cast<char>(random_());
  return made;
}

void World::add_phone(proto::Role role) {
  phones_.push_back(std::make_unique<Phone>());
  Phone& phone = *phones_.back();
  phone.path = fmt::format("{}/phone-{}", folder_, files_++);
  phone.installation = bytes(8);
  phone.role = role;
  LedgerOptions options;
  options.device = bytes(16);
  sure(LedgerStore::open(phone.path, options));
  open(phone);
  JoinCode code{"HUB", 443, std::string(kFingerprintBytes, 'f'), bytes(kJoinSecretBytes)};
  sure(log_->put_join_code(
      {sha256(code.secret), role, hub_now().utc_ms + kJoinCodeLasts_ms, std::string()}));
  sure(phone.machine->join_with(code, "phone"));
  // Joining is not what the weather tries: a code lost with a crash is for a test of its own.
  connect(phone);
  for (int i = 0; i < 100 && phone.machine->state() != DeviceMachine::State::kSyncing; ++i) {
    now_ms_ += 10;
    deliver(phone);
  }
  if (phone.machine->state() != DeviceMachine::State::kSyncing) wrong_ += "a phone cannot join; ";
}

void World::open(Phone& phone) {
  const Random random = [this](std::size_t count) { return bytes(count); };
  phone.store = std::make_unique<LedgerStore>(sure(LedgerStore::open(phone.path, {})));
  phone.state = std::make_unique<DeviceState>(
      sure(DeviceState::open(*phone.store, phone.installation, random)));
  phone.machine = std::make_unique<DeviceMachine>(*phone.state, random);
  phone.connect_at_ms = now_ms_;
}

void World::close(Phone& phone) {
  drop(phone);
  phone.machine.reset();
  phone.state.reset();
  phone.store.reset();
}

void World::connect(Phone& phone) {
  drop(phone);
  phone.link = std::make_unique<Link>(place_, fmt::format("address {}", below(1000)), bytes(32),
                                      bytes(32), hub_now());
  apply(phone, phone.machine->connected(phone.link->channel_binding, phone_now(phone)));
}

void World::drop(Phone& phone) {
  if (!phone.link) return;
  std::erase_if(queue_, [&](const Queued& queued) { return queued.link == phone.link.get(); });
  if (!phone.link->recorded.empty() && recordings_.size() < 8) {
    recordings_.push_back(phone.link->recorded);
  }
  phone.link.reset();
  if (!phone.machine) return;
  phone.connect_at_ms = {};
  const DeviceActions actions = phone.machine->disconnected(phone_now(phone));
  if (actions.connect_at_steady_ms) phone.connect_at_ms = *actions.connect_at_steady_ms;
}

void World::apply(Phone& phone, DeviceActions actions) {
  if (phone.machine->failure()) wrong_ += phone.machine->failure()->text() + "; ";
  reached.moved += actions.rebuild_views;
  if (!phone.link) return;
  for (const std::string& frame : actions.send) {
    const auto read = decode_frame(frame);
    if (read && read->has_rename()) ++reached.renamed;
    if (read && read->has_push() && read->push().device() != phone.state->device()) {
      ++reached.relayed;
    }
    if (read && read->has_push()) {
      // Sent once more what an earlier connection had sent and seen no answer to.
      std::uint64_t& sent = phone.pushed_after[read->push().device()];
      reached.resent += read->push().after() < sent;
      sent = std::max(sent, read->push().after() + 1);
    }
    phone.link->to_hub += FrameStream::wrap(frame);
    if (phone.link->recorded.size() < 50) phone.link->recorded.push_back(frame);
  }
  if (actions.close) phone.link->phone_closed = true;
  watch(phone);
}

void World::apply(Link& link, HubActions actions) {
  for (const std::string& frame : actions.send) {
    const auto read = decode_frame(frame);
    if (read && read->has_refusal() && read->refusal().kind() == proto::REFUSAL_DAMAGED) {
      ++reached.bit_flip_seen;
    }
    link.to_phone += FrameStream::wrap(frame);
  }
  for (Offer& offer : actions.commit) queue_.push_back({&link, std::move(offer)});
  if (actions.close) link.hub_closed = true;
  if (link.session.offered_bytes() > kPushWindow + kMostFrameBytes) wrong_ += "window overrun; ";
}

/// Some bytes arrive at either end, cut anywhere.
void World::deliver(Phone& phone) {
  if (!phone.link) return;
  Link& link = *phone.link;
  const auto take = [&](std::string& from) {
    std::string some = from.substr(0, 1 + below(4000));
    from.erase(0, some.size());
    return some;
  };
  if (!link.to_hub.empty()) {
    link.at_hub.take(take(link.to_hub));
    for (auto frame = link.at_hub.next(); frame && *frame; frame = link.at_hub.next()) {
      const bool was_live = link.session.state() == HubSession::State::kLive;
      apply(link, link.session.receive(**frame, hub_now()));
      if (!was_live && link.session.state() == HubSession::State::kLive) replace_older(link);
    }
  }
  if (!link.to_phone.empty()) {
    link.at_phone.take(take(link.to_phone));
    for (auto frame = link.at_phone.next(); frame && *frame; frame = link.at_phone.next()) {
      apply(phone, phone.machine->receive(**frame, phone_now(phone)));
    }
  }
  const bool over =
      (link.hub_closed && link.to_phone.empty()) || (link.phone_closed && link.to_hub.empty());
  if (over) drop(phone);
}

void World::replace_older(const Link& live) {
  for (const auto& phone : phones_) {
    Link* other = phone->link.get();
    if (!other || other == &live || other->session.device() != live.session.device()) continue;
    apply(*other, other->session.replaced(hub_now()));
  }
}

/// All that waits goes into one commit, then is acknowledged.
void World::commit() {
  if (queue_.empty()) return;
  std::vector<Queued> queued;
  queued.swap(queue_);
  std::vector<Offer> offers;
  for (const Queued& one : queued) offers.push_back(one.offer);
  const auto answers = log_->commit(offers, hub_now().utc_ms);
  if (!answers) ++reached.commit_failed;
  for (std::size_t i = 0; i < queued.size(); ++i) {
    const OrError<Verdicts> verdicts =
        answers ? OrError<Verdicts>((*answers)[i]) : tl::unexpected(answers.error());
    apply(*queued[i].link,
          queued[i].link->session.stored(queued[i].offer.ticket, verdicts, hub_now()));
  }
  for (const auto& phone : phones_) {
    if (phone->link) apply(*phone->link, phone->link->session.log_grew(hub_now()));
  }
}

void World::tick() {
  for (const auto& phone : phones_) {
    apply(*phone, phone->machine->tick(phone_now(*phone)));
    if (!phone->link) continue;
    apply(*phone->link, phone->link->session.tick(hub_now()));
    apply(*phone->link, phone->link->session.log_grew(hub_now()));
  }
}

void World::append(Phone& phone, int count) {
  std::vector<proto::Entry> entries;
  for (int i = 0; i < count; ++i) {
    proto::Entry entry;
    entry.set_event_utc_ms(phone_now(phone).utc_ms);
    entry.set_member("somebody");
    const std::string token = fmt::format("token {}", made_++);
    if (below(2) == 0) {
      entry.mutable_note()->set_text(token);
    } else {
      entry.mutable_duty_done()->mutable_duty()->set_id(token);
      entry.mutable_duty_done()->set_minutes(double(below(900)) / 60);
    }
    entries.push_back(entry);
  }
  sure(phone.store->append(entries, phone_now(phone).utc_ms));
  for (const proto::Entry& entry : entries) promised_.insert(token_of(entry.SerializeAsString()));
  apply(phone, phone.machine->look(phone_now(phone)));
}

void World::cut(Phone& phone) {
  if (!phone.link) return;
  if (phone.link->to_phone.size() > 30) ++reached.ack_lost;
  drop(phone);
}

void World::crash_phone(Phone& phone) {
  cut(phone);
  close(phone);
  open(phone);
}

void World::crash_hub() {
  queue_.clear();
  for (const auto& phone : phones_) cut(*phone);
  log_->crash();
}

void World::backup(Phone& phone) {
  // A backup of a restored phone that has not met the hub again, restored once more, would give
  // its unsent entries two new names: a stated limit (sync/PROTOCOL.md).
  if (phone.state->device() == phone.restored_as) return;
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
  phone.restored_as = phone.state->device();
  forget_lost();
}

void World::clone(Phone& phone, bool notices) {
  // A copy of a copy, before either has met the hub: the same stated limit.
  for (const auto& other : phones_) {
    if (other.get() != &phone && other->state->device() == phone.state->device()) return;
  }
  close(phone);
  phones_.push_back(std::make_unique<Phone>());
  Phone& second = *phones_.back();
  second.path = fmt::format("{}/phone-{}", folder_, files_++);
  second.installation = notices ? bytes(8) : phone.installation;
  second.role = phone.role;
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
  for (const auto& [token, times] : tokens_at_hub()) kept.insert(token);
  std::erase_if(promised_, [&](const std::string& token) { return kept.count(token) == 0; });
}

/// What a phone holds whole, in its ledger or set aside.
std::set<std::string> World::tokens_of(Phone& phone) {
  std::set<std::string> tokens;
  const auto former = sure(phone.state->former_names());
  sure(phone.store->visit([&](const StoredEntry& stored) {
    proto::Entry entry;
    entry.ParseFromArray(stored.bytes.data(), int(stored.bytes.size()));
    // A member's copies of others' entries are not offered again.
    const bool own =
        stored.order.device == phone.state->device() || former.count(stored.order.device) > 0;
    if (own || phone.role != proto::ROLE_MEMBER) tokens.insert(token_of(stored.bytes));
    return true;
  }));
  for (const ParkedEntry& entry : sure(phone.state->parked())) {
    if (!entry.bytes.empty()) tokens.insert(token_of(entry.bytes));
  }
  return tokens;
}

std::map<std::string, int> World::tokens_at_hub() {
  std::map<std::string, int> tokens;
  sure(log_->visit(0, [&](const LoggedEntry& entry) {
    const std::string token = token_of(entry.bytes);
    if (!token.empty()) ++tokens[token];
    return true;
  }));
  return tokens;
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
  HubSession session(place_, "replayer", bytes(32), bytes(32), hub_now());
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
  if (happens(weather_.restore_hub)) {
    restore_hub(below(std::uint32_t(sure(log_->last_position())) + 1));
  }
  if (happens(weather_.clock_jump)) {
    phone.clock_off_ms = (std::int64_t(below(1461)) - 730) * 86'400'000;
  }
  if (happens(weather_.replay)) replay();
  if (happens(5)) phone.online = !phone.online;
  if (happens(300)) append(phone, happens(50) ? 300 : 1 + int(below(5)));
}

void World::step() {
  now_ms_ += below(400);
  if (below(20) == 0) tick();
  if (below(3) == 0) commit();
  if (weather_.forgetful_hub && below(6) == 0) log_->sync();
  for (const auto& phone : phones_) {
    if (!phone->online && phone->link) cut(*phone);
    const bool due = phone->connect_at_ms && *phone->connect_at_ms <= now_ms_;
    if (phone->online && !phone->link && due) connect(*phone);
    if (below(2) == 0) deliver(*phone);
  }
}

bool World::heal(std::int64_t within_ms) {
  log_->failing_commits = 0;
  for (const auto& phone : phones_) phone->online = true;
  const std::int64_t until = now_ms_ + within_ms;
  while (now_ms_ < until) {
    step();
    if (!queue_.empty()) continue;
    bool rest = true;
    for (const auto& phone : phones_) {
      rest = rest && phone->link && phone->link->to_hub.empty() && phone->link->to_phone.empty() &&
             phone->machine->up_to_date() && sure(phone->state->outbox()).waiting == 0 &&
             phone->link->session.sent_through() == sure(log_->last_position());
    }
    if (rest) return true;
  }
  return false;
}

std::string World::check() {
  std::string wrong = wrong_;
  std::set<std::string> aside;
  std::map<std::string, std::string> at_hub;
  for (const auto& phone : phones_) {
    for (const ParkedEntry& entry : sure(phone->state->parked())) {
      ++reached.parked;
      const auto bytes = entry.bytes.empty()
                             ? sure(phone->store->bytes_of(entry.device, entry.sequence))
                             : std::optional(entry.bytes);
      if (bytes) aside.insert(token_of(*bytes));
    }
  }
  const auto tokens = tokens_at_hub();
  for (const std::string& token : promised_) {
    if (tokens.count(token) == 0 && aside.count(token) == 0) wrong += "lost " + token + "; ";
  }
  for (const auto& [token, times] : tokens) {
    if (times > 1) wrong += fmt::format("{} counted {} times; ", token, times);
  }
  std::vector<std::string> names;
  sure(log_->visit(0, [&](const LoggedEntry& entry) {
    at_hub[fmt::format("{}/{}", entry.device, entry.sequence)] = entry.bytes;
    proto::Entry read;
    read.ParseFromArray(entry.bytes.data(), int(entry.bytes.size()));
    reached.clock_measured += read.has_clock_measured();
    return true;
  }));
  for (const auto& phone : phones_) {
    std::size_t here = 0;
    const std::string lineage = sure(log_->device(phone->state->device()))->lineage;
    sure(phone->store->visit([&](const StoredEntry& stored) {
      ++here;
      const auto found =
          at_hub.find(fmt::format("{}/{}", stored.order.device, stored.order.sequence));
      proto::Entry entry;
      entry.ParseFromArray(stored.bytes.data(), int(stored.bytes.size()));
      if (found == at_hub.end()) {
        if (aside.count(token_of(stored.bytes)) == 0) wrong += "a phone has what the hub lacks; ";
      } else if (!entry.reduced() && found->second != stored.bytes) {
        wrong += "hub and phone differ in an entry; ";
      }
      const auto author = sure(log_->device(stored.order.device));
      const bool others = !author || author->lineage != lineage;
      if (phone->role == proto::ROLE_MEMBER && others &&
          (entry.duty_done().has_minutes() || (entry.has_duty_done() && !entry.member().empty()))) {
        wrong += "a member holds others' minutes; ";
      }
      return true;
    }));
    if (here < at_hub.size()) {
      wrong += fmt::format("a phone lacks {} of {} entries; ", at_hub.size() - here, at_hub.size());
    }
    sure(phone->store->check());
  }
  return wrong;
}

std::string World::run() {
  for (int i = 0; i < weather_.steps && wrong_.empty(); ++i) {
    trouble();
    step();
  }
  if (!wrong_.empty()) return wrong_;
  if (!heal()) {
    std::string stuck = "not at rest: ";
    for (const auto& phone : phones_) {
      const auto progress = sure(phone->machine->progress());
      stuck += fmt::format("[state {} waiting {} way {} pulled {} of {} {}] ",
                           int(phone->machine->state()), progress.saved_here, progress.on_its_way,
                           progress.pulled, progress.to_pull,
                           progress.refusal ? progress.refusal->sentence() : std::string());
    }
    return stuck + check();
  }
  return check();
}

}  // namespace chipfall::sim
