#include "tests/sim/world.h"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>

#include "sync/secret.h"
#include "tests/sim/sure.h"

namespace chipfall::sim {

namespace {

namespace fs = std::filesystem;

constexpr std::int64_t kTickEvery_ms = 5'000;  ///< as drivers do

/// In memory where the system offers it: the runs sync often.
std::string make_folder() {
  const std::string base = fs::exists("/dev/shm") ? "/dev/shm" : fs::temp_directory_path().string();
  std::string name = base + "/chipfall-sim-XXXXXX";
  if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no folder for the run");
  return name;
}

}  // namespace

World::World(std::uint32_t seed, const Weather& weather)
    : random_(seed), weather_(weather), folder_(make_folder()) {
  log_ = std::make_unique<MemoryLog>("otter-bend", bytes(16));
  log_->forgetful = weather.forgetful_hub;
  log_->mixes_lines = weather.mixing_hub;
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
  return {kStart_utc_ms + now_ms_ + phone.clock_off_ms, now_ms_ - phone.slept_ms + 1};
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
  if (weather_.chance_names) {
    phone.state->name_of_moved = [this](const std::string&, std::uint64_t, std::string_view) {
      return bytes(16);
    };
  }
  phone.machine = std::make_unique<DeviceMachine>(*phone.state, random);
  phone.connect_at_ms = phone_now(phone).steady_ms;
}

void World::close(Phone& phone) {
  drop(phone);
  phone.views.reset();
  phone.machine.reset();
  phone.state.reset();
  phone.store.reset();
}

void World::connect(Phone& phone) {
  drop(phone);
  // Drawn one by one: the order of arguments is each compiler's own.
  const std::string nonce = bytes(32), binding = bytes(32);
  phone.link = std::make_unique<Link>(place_, fmt::format("address {}", below(1000)), binding,
                                      nonce, hub_now());
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
  if (!actions.connect_at_steady_ms) return;
  phone.connect_at_ms = *actions.connect_at_steady_ms;
  phone.waits_ms = *phone.connect_at_ms - phone_now(phone).steady_ms;
  // A replaced one stays away a little on top of it.
  if (phone.waits_ms > kMostBackoff_ms + 60 * 60'000) wrong_ += "a wait without end; ";
}

void World::apply(Phone& phone, DeviceActions actions) {
  if (phone.machine->failure()) wrong_ += phone.machine->failure()->text() + "; ";
  reached.moved += actions.rebuild_views;
  if (actions.rebuild_views && phone.views) {
    ++reached.views_outdated;
    // A shell catches up, unless it is killed before.
    if (below(2) == 0) sure(phone.views->catch_up());
  }
  if (!phone.link) return;
  for (const std::string& frame : actions.send) {
    note_frame(frame, 'd');
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
    note_frame(frame, 'h');
    const auto read = decode_frame(frame);
    if (read && read->has_page()) ++reached.pages;
    if (read && read->has_refusal() && read->refusal().kind() == proto::REFUSAL_DAMAGED) {
      ++reached.bit_flip_seen;
    }
    link.to_phone += FrameStream::wrap(frame);
  }
  for (Offer& offer : actions.commit) queue_.push_back({&link, std::move(offer)});
  if (actions.close) link.hub_closed = true;
  if (link.session.offered_bytes() > kPushWindow + kMostFrameBytes) wrong_ += "window overrun; ";
  // Beside pages there are only answers, one for each frame of the device.
  if (link.to_phone.size() > kPullWindow + 2 * kMostFrameBytes) wrong_ += "pages without credit; ";
}

/// Some bytes arrive at either end, cut anywhere.
void World::deliver(Phone& phone) {
  if (!phone.link) return;
  Link& link = *phone.link;
  const auto take = [&](std::string& from) {
    std::string some = from.substr(0, 1 + below(4000));
    from.erase(0, some.size());
    carried_bytes_ += std::int64_t(some.size());
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

void World::note_frame(const std::string& frame, char by) {
  if (frame.size() > kMostFrameBytes) wrong_ += "a frame over the limit; ";
  const auto add = [this](unsigned char byte) { trace_ = (trace_ ^ byte) * 0x100000001b3; };
  add(static_cast<unsigned char>(by));
  for (int shift = 0; shift < 64; shift += 8) add(static_cast<unsigned char>(now_ms_ >> shift));
  for (const char byte : frame) add(static_cast<unsigned char>(byte));
}

void World::look(Phone& phone) {
  ++reached.looked;
  if (!phone.views) {
    phone.views = sure(Views::open(*phone.store));
  } else {
    sure(phone.views->catch_up());
  }
}

void World::step() {
  now_ms_ += below(400);
  if (below(20) == 0) tick();
  if (below(3) == 0) commit();
  if (weather_.forgetful_hub && below(6) == 0) log_->sync();
  for (const auto& phone : phones_) {
    if (!phone->online && phone->link) cut(*phone);
    const bool due = phone->connect_at_ms && *phone->connect_at_ms <= phone_now(*phone).steady_ms;
    if (phone->online && !phone->link && due) connect(*phone);
    if (below(2) == 0) deliver(*phone);
  }
}

bool World::idle() const {
  return queue_.empty() && std::all_of(phones_.begin(), phones_.end(), [](const auto& phone) {
           return !phone->link || (phone->link->to_hub.empty() && phone->link->to_phone.empty());
         });
}

/// Nothing is on its way: straight to when somebody connects or pings.
void World::pass_time() {
  std::int64_t next = now_ms_ + kTickEvery_ms;
  for (const auto& phone : phones_) {
    if (phone->online && !phone->link && phone->connect_at_ms) {
      const std::int64_t wait_ms = *phone->connect_at_ms - phone_now(*phone).steady_ms;
      next = std::min(next, now_ms_ + std::max<std::int64_t>(0, wait_ms));
    }
  }
  now_ms_ = next;
  tick();
}

bool World::at_rest() {
  if (!idle()) return false;
  const std::uint64_t last = sure(log_->last_position());
  for (const auto& phone : phones_) {
    if (phone->state->place().cursor != last) return false;
    const bool connected =
        phone->link && phone->machine->up_to_date() && phone->link->session.sent_through() == last;
    // Copies that have recorded nothing else are one device for the hub, and take turns for ever.
    const bool takes_turns = std::any_of(phones_.begin(), phones_.end(), [&](const auto& other) {
      return other != phone && other->state->device() == phone->state->device();
    });
    if (!connected && !takes_turns) return false;
  }
  // Last, since it counts entries.
  return std::all_of(phones_.begin(), phones_.end(),
                     [](const auto& phone) { return sure(phone->state->outbox()).waiting == 0; });
}

bool World::heal(std::int64_t within_ms) {
  log_->failing_commits = 0;
  for (const auto& phone : phones_) phone->online = true;
  const std::int64_t until = now_ms_ + within_ms;
  while (now_ms_ < until) {
    if (idle()) pass_time();
    step();
    // What is refused is parked after tries at several connections only.
    if (!refused_.empty() && below(20) == 0) cut(*phones_[below(std::uint32_t(phones_.size()))]);
    if (at_rest()) return true;
  }
  return false;
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
  const std::string wrong = check();
  return wrong.empty() ? check_again() : wrong;
}

}  // namespace chipfall::sim
