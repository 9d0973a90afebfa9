#include "sync/door_syncing.h"

#include <fmt/format.h>

#include <algorithm>

#include "sync/hub_path.h"
#include "sync/role_words.h"
#include "sync/sync_words.h"

namespace chipfall {

namespace {

constexpr std::size_t kMostInstallationBytes = 64;
constexpr std::size_t kMostLabelBytes = 80;  // as a person's name
constexpr const char* kWrongKey =
    "whoever answers there has another key than the hub that this device joined: ask the "
    "coordinator before anything else";

/// The source of chance failed. Everything that it interrupts is done anew.
struct NoRandom {};

tl::unexpected<Error> no_random() {
  return sync_error(ErrorCode::kUnreadable,
                    "there are no random bytes to make keys of; open the door with a source of "
                    "them");
}

void put_hub(const HubAddress& hub, proto::HubPlace& out) {
  out.set_host(hub.host);
  out.set_port(hub.port);
  out.set_fingerprint(hub.fingerprint);
  out.set_path(kSyncPath);
  out.set_fingerprint_text(fingerprint_words(hub.fingerprint));
}

void add(DeviceActions more, DeviceActions& to) {
  for (std::string& frame : more.send) to.send.push_back(std::move(frame));
  to.close = to.close || more.close;
  to.ledger_grew = to.ledger_grew || more.ledger_grew;
  to.rebuild_views = to.rebuild_views || more.rebuild_views;
}

OrError<void> check_length(const std::string& text, std::size_t most, const char* path) {
  if (text.size() <= most) return {};
  return tl::unexpected(
      Error{ErrorCode::kOutOfBounds, fmt::format("at most {} bytes", most), {"", 0, 0, path}});
}

}  // namespace

std::string code_within(std::string_view text) {
  std::string plain;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const std::string_view three = text.substr(i, 3);
    if (three == "%2A" || three == "%2a") {
      plain += '*';
      i += 2;
    } else {
      plain += text[i];
    }
  }
  const auto same = [](char a, char b) { return a == b || a == b + ('a' - 'A'); };
  const std::string_view begin = "CF1*";
  const auto found = std::search(plain.begin(), plain.end(), begin.begin(), begin.end(), same);
  if (found == plain.end()) return plain;
  return {found, plain.end()};
}

OrError<std::unique_ptr<Syncing>> DoorSyncing::open(LedgerStore& store, SyncSources sources) {
  std::unique_ptr<DoorSyncing> made(new DoorSyncing(std::move(sources)));
  try {
    OrError<DeviceState> memory = DeviceState::open(store, "", made->random());
    if (!memory) return tl::unexpected(memory.error());
    made->memory_.emplace(*std::move(memory));
  } catch (const NoRandom&) {
    return no_random();
  }
  made->machine_.emplace(*made->memory_, made->random());
  return made;
}

Random DoorSyncing::random() const {
  return [source = sources_.random](std::size_t count) {
    std::string bytes(count, '\0');
    const std::span filled(reinterpret_cast<std::uint8_t*>(bytes.data()), bytes.size());
    if (!source || !source(filled)) throw NoRandom();
    return bytes;
  };
}

Moment DoorSyncing::moment(const proto::SyncEvent& event) const {
  constexpr std::int64_t kLatest_ms = std::int64_t{1} << 61;  // so that no sum runs over
  const std::int64_t utc = sources_.now_ms();
  return {utc,
          std::clamp<std::int64_t>(event.has_steady_ms() ? event.steady_ms() : utc, 0, kLatest_ms)};
}

OrError<void> DoorSyncing::reopen(const std::string& installation) {
  OrError<DeviceState> memory = DeviceState::open(memory_->store(), installation, random());
  if (!memory) return tl::unexpected(memory.error());
  *memory_ = *std::move(memory);
  return {};
}

std::optional<HubAddress> DoorSyncing::hub() const {
  if (joining_) return joining_;
  if (memory_->place().shop.empty()) return {};
  return memory_->hub();
}

OrError<proto::Joining> DoorSyncing::join(const proto::AskJoin& asked) {
  try {
    return begin(asked);
  } catch (const NoRandom&) {
    return no_random();
  }
}

OrError<proto::Joining> DoorSyncing::begin(const proto::AskJoin& asked) {
  const OrError<JoinCode> code = read_join_code(code_within(asked.code()));
  if (!code) {
    Error error = code.error();
    error.place.path = "code";
    return tl::unexpected(std::move(error));
  }
  const HubAddress place{code->host, code->port, code->fingerprint};
  proto::Joining joining;
  put_hub(place, *joining.mutable_hub());
  if (!memory_->place().shop.empty()) joining.set_joined_before(memory_->place().shop_name);
  std::string text = fmt::format("The hub at {}, port {}.", place.host, place.port);
  if (!joining.joined_before().empty()) {
    fmt::format_to(std::back_inserter(text), " This device leaves \"{}\" by it.",
                   joining.joined_before());
  }
  joining.set_text(std::move(text));
  if (!asked.begin()) return joining;

  for (const auto& fits :
       {check_length(asked.label(), kMostLabelBytes, "label"),
        check_length(asked.installation(), kMostInstallationBytes, "installation")}) {
    if (!fits) return tl::unexpected(fits.error());
  }
  const auto fresh = reopen(asked.installation());
  if (!fresh) return tl::unexpected(fresh.error());
  const auto begun = machine_->join_with(*code, asked.label());
  if (!begun) return tl::unexpected(begun.error());
  joining_ = place;
  leave_ = connected_;
  wrong_key_ = false;
  machine_->network_changed();
  connect_at_steady_ms_ = 0;
  joining.set_begun(true);
  return joining;
}

OrError<Syncing::Stepped> DoorSyncing::step(const proto::SyncEvent& event) {
  const Moment now = moment(event);
  Stepped stepped;
  try {
    OrError<DeviceActions> actions = act(event, now);
    if (!actions) return tl::unexpected(actions.error());
    if (machine_->failure()) {
      Error failure = *machine_->failure();
      if (connected_) ended(now);
      return tl::unexpected(std::move(failure));
    }
    proto::SyncStep& step = stepped.step;
    for (std::string& frame : actions->send) *step.add_send() = std::move(frame);
    step.set_close(actions->close);
    step.set_ledger_grew(actions->ledger_grew || actions->rebuild_views);
    stepped.rebuild_views = actions->rebuild_views;
  } catch (const NoRandom&) {
    machine_.emplace(*memory_, random());
    connected_ = false;
    return no_random();
  }
  const auto place = hub();
  if (connected_) {
    stepped.step.set_again_in_ms(kSyncAgain_ms);
  } else if (place && connect_at_steady_ms_) {
    stepped.step.set_connect_in_ms(
        std::max<std::int64_t>(0, *connect_at_steady_ms_ - now.steady_ms));
  }
  if (place) put_hub(*place, *stepped.step.mutable_hub());
  OrError<proto::SyncState> told = state();
  if (!told) return tl::unexpected(told.error());
  *stepped.step.mutable_state() = *std::move(told);
  return stepped;
}

OrError<DeviceActions> DoorSyncing::act(const proto::SyncEvent& event, Moment now) {
  const DeviceMachine::State before = machine_->state();
  DeviceActions out;
  switch (event.what_case()) {
    case proto::SyncEvent::kOpened:
      return opened(event, now);
    case proto::SyncEvent::kMessage:
      // What still comes after an end has nowhere to go.
      out.close = leave_ || !connected_;
      if (!out.close) add(machine_->receive(event.message(), now), out);
      break;
    case proto::SyncEvent::kPassed:
      if (event.passed().network_changed()) {
        machine_->network_changed();
        wrong_key_ = false;
        connect_at_steady_ms_ = 0;
      }
      out.close = leave_;
      if (connected_ && !leave_) {
        add(machine_->tick(now), out);
        add(machine_->look(now), out);
      }
      break;
    case proto::SyncEvent::kClosed:
      out = ended(now);
      if (event.closed().wrong_key()) other_key();
      break;
    case proto::SyncEvent::WHAT_NOT_SET:
      return sync_error(ErrorCode::kUnknown,
                        "says nothing of the connection, or something that only a newer version "
                        "knows");
  }
  forget_settled_code(before);
  return out;
}

OrError<DeviceActions> DoorSyncing::opened(const proto::SyncEvent& event, Moment now) {
  const auto fits = check_length(event.installation(), kMostInstallationBytes, "installation");
  if (!fits) return tl::unexpected(fits.error());
  if (connected_) ended(now);
  const auto fresh = reopen(event.installation());
  if (!fresh) return tl::unexpected(fresh.error());
  const auto place = hub();
  if (!place) {
    return sync_error(ErrorCode::kMistake,
                      "this device has not joined a hub: ask the coordinator for a code");
  }
  const std::string& seen = event.opened().fingerprint();
  wrong_key_ = !seen.empty() && seen != place->fingerprint;
  if (wrong_key_) {
    other_key();
    DeviceActions out;
    out.close = true;
    return out;
  }
  connected_ = true;
  leave_ = false;
  return machine_->connected(event.opened().channel_binding(), now);
}

DeviceActions DoorSyncing::ended(Moment now) {
  connected_ = false;
  const bool at_once = std::exchange(leave_, false);
  DeviceActions out = machine_->disconnected(now);
  if (wrong_key_) return out;
  connect_at_steady_ms_ = out.connect_at_steady_ms;
  if (at_once) connect_at_steady_ms_ = 0;
  return out;
}

/// Nothing is told to whoever answered, and the code is not to be had there either.
void DoorSyncing::other_key() {
  wrong_key_ = true;
  machine_->put_code_away();
  joining_.reset();
  connect_at_steady_ms_.reset();
}

void DoorSyncing::forget_settled_code(DeviceMachine::State before) {
  if (!joining_ || before != DeviceMachine::State::kJoining) return;
  if (!memory_->pending_join()) {
    joining_.reset();  // it was joined
  } else if (machine_->state() == DeviceMachine::State::kRefused) {
    const auto progress = machine_->progress();
    if (progress && progress->refusal && !progress->refusal->waiting_helps()) joining_.reset();
  }
}

OrError<proto::SyncState> DoorSyncing::state() {
  const OrError<SyncProgress> progress = machine_->progress();
  if (!progress) return tl::unexpected(progress.error());
  proto::SyncState state;
  state.set_format(1);
  SyncProgress::Link link = progress->link;
  const bool people_must_act =
      wrong_key_ || (progress->refusal && !progress->refusal->waiting_helps());
  if (!connected_ && people_must_act) link = SyncProgress::Link::kRefused;
  state.set_link(std::string(link_word(link)));
  state.set_saved_here(progress->saved_here);
  state.set_on_its_way(progress->on_its_way);
  state.set_at_hub(progress->at_hub);
  if (progress->to_pull > progress->pulled) {
    state.set_to_fetch(static_cast<std::int64_t>(progress->to_pull - progress->pulled));
  }
  state.set_set_aside(progress->parked);
  const OrError<std::vector<ParkedEntry>> parked = memory_->parked();
  if (!parked) return tl::unexpected(parked.error());
  for (const ParkedEntry& entry : *parked) {
    if (entry.tries < kTriesBeforeParking) continue;
    if (state.aside_size() == kMostAsideTold) break;
    proto::SetAside& aside = *state.add_aside();
    aside.set_why(entry.sentence);
    if (entry.device.empty()) continue;
    aside.mutable_entry()->set_device(entry.device);
    aside.mutable_entry()->set_sequence(entry.sequence);
  }
  const SyncPlace& place = memory_->place();
  state.set_shop(place.shop_name);
  state.set_role(std::string(place.shop.empty() ? "" : role_word(place.role)));
  state.set_joining(joining_.has_value());
  if (wrong_key_) {
    state.mutable_refusal()->set_kind("wrong key");
    state.mutable_refusal()->set_sentence(kWrongKey);
  } else if (progress->refusal) {
    proto::SyncRefusal& refusal = *state.mutable_refusal();
    refusal.set_kind(std::string(refusal_word(progress->refusal->kind())));
    refusal.set_sentence(progress->refusal->sentence());
    refusal.set_waiting_helps(progress->refusal->waiting_helps());
  }
  state.set_text(sync_line(state));
  return state;
}

OpenSyncing syncing_of_library() { return &DoorSyncing::open; }

}  // namespace chipfall
