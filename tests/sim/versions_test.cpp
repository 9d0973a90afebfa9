#include <doctest/doctest.h>
#include <fmt/format.h>
#include <google/protobuf/unknown_field_set.h>

#include <cstdlib>
#include <fstream>
#include <functional>

#include "sync/batch.h"
#include "sync/device_machine.h"
#include "sync/hub_session.h"
#include "sync/memory_log.h"
#include "sync/secret.h"
#include "tests/unit/ledger_folder.h"

/// Case 22: devices and hubs of different versions. What a newer one adds (fields, frames, words,
/// kinds of entries) disturbs an older one in nothing; versions too far apart end with a refusal
/// that says what to do, and nothing that was recorded is lost. The recorded sessions of every
/// released version are played to both sides as they are now, and must go on to work:
/// CHIPFALL_RECORD=file writes one of the present version.
namespace chipfall {
namespace {

constexpr int kNewerField = 1000;  ///< that no version knows
const std::string kBinding(32, 'b');

Random same_chance() {
  return [next = 0u](std::size_t count) mutable {
    std::string bytes(count, '\0');
    for (char& byte : bytes) byte = static_cast<char>((next = next * 1103515245 + 12345) >> 16);
    return bytes;
  };
}

Moment at(std::int64_t ms) { return {kTestNow_ms + ms, 1 + ms}; }

void add_newer_fields(google::protobuf::Message& message) {
  const auto* reflection = message.GetReflection();
  reflection->MutableUnknownFields(&message)->AddVarint(kNewerField, 7);
  reflection->MutableUnknownFields(&message)->AddLengthDelimited(kNewerField + 1, "newer");
}

/// The frame as a newer version would send it: with fields around and inside that nobody knows.
std::string as_newer(const std::string& frame) {
  proto::Frame read = sure(decode_frame(frame));
  const auto* reflection = read.GetReflection();
  std::vector<const google::protobuf::FieldDescriptor*> set;
  reflection->ListFields(read, &set);
  for (const auto* field : set) add_newer_fields(*reflection->MutableMessage(&read, field));
  add_newer_fields(read);
  return encode_frame(read);
}

/// A frame with a body of a kind that nobody knows.
std::string newer_frame() {
  proto::Frame frame;
  add_newer_fields(frame);
  return encode_frame(frame);
}

/// A device and a hub that take turns, with every byte the same each time.
struct Pair {
  Pair()
      : store(sure(LedgerStore::open(folder.file("phone"), of_device("phone-of-old-00")))),
        state(sure(DeviceState::open(store, "", chance))),
        machine(state, chance) {
    place.find_shop = [this](const std::string&) { return &log; };
    place.find_code = [this](const std::string&) { return &log; };
    place.guesses = &guesses;
  }

  using Change = std::function<std::string(const std::string&)>;

  void join() {
    JoinCode code{"HUB", 443, std::string(kFingerprintBytes, 'f'),
                  std::string(kJoinSecretBytes, 's')};
    sure(log.put_join_code({sha256(code.secret), proto::ROLE_CLOSER, kTestNow_ms + 1000, ""}));
    sure(machine.join_with(code, "phone"));
    connect();
    machine.disconnected(at(now_ms));
    session.reset();
  }

  /// One connection until neither says anything; `to_hub`, `to_device` change frames on their way,
  /// after those which the proof is about.
  void connect(const Change& to_hub = {}, const Change& to_device = {}) {
    session.emplace(place, "here", kBinding, std::string(kNonceBytes, 'n'), at(now_ms));
    DeviceActions device = machine.connected(kBinding, at(now_ms));
    while (!device.send.empty()) {
      HubActions hub;
      for (const std::string& frame : device.send) {
        said_by_device.push_back(frame);
        const bool proven = session->state() == HubSession::State::kLive;
        add(hub, session->receive(to_hub && proven ? to_hub(frame) : frame, at(++now_ms)));
      }
      device = {};
      for (const std::string& frame : hub.send) {
        said_by_hub.push_back(frame);
        const bool challenge = sure(decode_frame(frame)).has_challenge();
        DeviceActions more =
            machine.receive(to_device && !challenge ? to_device(frame) : frame, at(++now_ms));
        device.send.insert(device.send.end(), more.send.begin(), more.send.end());
      }
    }
  }

  void add(HubActions& all, HubActions more) {
    all.send.insert(all.send.end(), more.send.begin(), more.send.end());
    if (more.commit.empty()) return;
    const auto answers = sure(log.commit(more.commit, kTestNow_ms));
    for (std::size_t i = 0; i < answers.size(); ++i) {
      add(all, session->stored(more.commit[i].ticket, answers[i], at(now_ms)));
    }
    add(all, session->log_grew(at(now_ms)));
  }

  void record(int entries) {
    for (int i = 0; i < entries; ++i) {
      proto::Entry entry = note(fmt::format("note {}", i));
      sure(store.append(entry, kTestNow_ms + i));
    }
  }

  void have_other_entry(const std::string& bytes) {
    proto::Entry entry;
    REQUIRE(entry.ParseFromString(bytes));
    sure(log.commit(std::vector{Offer{0, entry.device(), {bytes}, {entry.sequence()}}}, 0));
  }

  LedgerFolder folder;
  Random chance = same_chance();
  LedgerStore store;
  DeviceState state;
  DeviceMachine machine;
  MemoryLog log{"otter-bend", std::string(16, 'e')};
  GuessLimit guesses;
  HubPlace place;
  std::optional<HubSession> session;
  std::int64_t now_ms = 0;
  std::vector<std::string> said_by_device, said_by_hub;
};

/// A session of a device that pushes, pulls and asks: what is recorded of a version.
void play_ordinary_session(Pair& pair) {
  pair.join();
  pair.record(5);
  pair.have_other_entry(sent("tablet", 1, {kTestNow_ms, 0}, "from the tablet"));
  pair.said_by_device.clear();
  pair.said_by_hub.clear();
  pair.connect();
}

std::string hex_of(const std::string& bytes) {
  std::string hex;
  for (const char byte : bytes) hex += fmt::format("{:02x}", static_cast<unsigned char>(byte));
  return hex;
}

struct Recorded {
  std::vector<std::string> by_device, by_hub;
};

Recorded recorded_session(const std::string& path) {
  std::ifstream in(path);
  REQUIRE(in.good());
  Recorded recorded;
  std::string who, hex;
  while (in >> who) {
    if (who[0] == '#') {
      std::getline(in, hex);
      continue;
    }
    in >> hex;
    std::string bytes;
    for (std::size_t i = 0; i + 1 < hex.size(); i += 2) {
      bytes += static_cast<char>(std::stoi(hex.substr(i, 2), nullptr, 16));
    }
    (who == "device" ? recorded.by_device : recorded.by_hub).push_back(bytes);
  }
  return recorded;
}

const std::vector<std::string> kRecordedSessions = {CHIPFALL_SOURCE_DIR
                                                    "/tests/vectors/session-1.txt"};

TEST_CASE("case 22: what a device of every released version said, the hub still understands") {
  if (const char* path = std::getenv("CHIPFALL_RECORD")) {
    Pair pair;
    play_ordinary_session(pair);
    std::ofstream out(path);
    out << "# One session, frame by frame as in versions_test.cpp. Never changed, never made "
           "anew.\n";
    for (const auto& frame : pair.said_by_device) out << "device " << hex_of(frame) << "\n";
    for (const auto& frame : pair.said_by_hub) out << "hub " << hex_of(frame) << "\n";
  }
  for (const std::string& path : kRecordedSessions) {
    const Recorded recorded = recorded_session(path);
    Pair pair;
    pair.join();  // the same device, known by the same verifier
    pair.have_other_entry(sent("tablet", 1, {kTestNow_ms, 0}, "from the tablet"));
    pair.session.emplace(pair.place, "here", kBinding, std::string(kNonceBytes, 'n'), at(1));
    HubActions hub;
    for (const std::string& frame : recorded.by_device) {
      pair.add(hub, pair.session->receive(frame, at(1)));
    }
    CHECK(pair.session->state() == HubSession::State::kLive);
    CHECK(sure(pair.log.last_position()) == 6);
    bool page = false, ack = false;
    for (const std::string& frame : hub.send) {
      page = page || sure(decode_frame(frame)).has_page();
      ack = ack || sure(decode_frame(frame)).has_ack();
    }
    CHECK(page);
    CHECK(ack);
  }
}

TEST_CASE("case 22: what a hub of every released version said, the device still understands") {
  for (const std::string& path : kRecordedSessions) {
    const Recorded recorded = recorded_session(path);
    Pair pair;
    pair.join();
    pair.record(5);
    pair.machine.connected(kBinding, at(1));
    for (const std::string& frame : recorded.by_hub) pair.machine.receive(frame, at(2));
    CHECK(pair.machine.state() == DeviceMachine::State::kSyncing);
    CHECK(sure(pair.store.bytes_of("tablet", 1)).has_value());
    CHECK(sure(pair.machine.progress()).at_hub == 5);
  }
}

TEST_CASE("case 22: fields that a newer version adds to any frame change nothing") {
  Pair pair;
  pair.join();
  pair.record(3);
  pair.have_other_entry(sent("tablet", 1, {kTestNow_ms, 0}, "from the tablet"));
  pair.connect(as_newer, as_newer);
  CHECK(pair.machine.up_to_date());
  CHECK(sure(pair.machine.progress()).at_hub == 3);
  CHECK(sure(pair.store.bytes_of("tablet", 1)).has_value());
}

TEST_CASE("case 22: frames of a kind that nobody knows are passed over by both") {
  Pair pair;
  pair.join();
  pair.record(3);
  pair.connect();
  CHECK(pair.session->receive(newer_frame(), at(10)).send.empty());
  CHECK(pair.session->state() == HubSession::State::kLive);
  CHECK(pair.machine.receive(newer_frame(), at(10)).send.empty());
  CHECK(pair.machine.state() == DeviceMachine::State::kSyncing);
}

TEST_CASE(
    "case 22: a newer device's hello and a newer hub's challenge are proven as they were sent") {
  Pair pair;
  pair.join();
  // A device of a version that speaks more, whose hello says things that this hub does not know.
  DeviceMachine old(pair.state, pair.chance);
  proto::Frame hello = sure(decode_frame(old.connected(kBinding, at(1)).send.at(0)));
  hello.mutable_hello()->mutable_versions()->set_newest(kNewestProtocol + 6);
  hello.mutable_hello()->add_capabilities("tomorrow");
  add_newer_fields(*hello.mutable_hello());
  const std::string hello_bytes = encode_frame(hello);
  pair.session.emplace(pair.place, "here", kBinding, std::string(kNonceBytes, 'n'), at(1));
  const std::string challenge = pair.session->receive(hello_bytes, at(1)).send.at(0);
  CHECK(sure(decode_frame(challenge)).challenge().version() == kNewestProtocol);
  proto::Frame proof;
  proof.mutable_proof()->set_proof(
      proof_of(pair.state.place().credential,
               {std::string_view(hello_bytes).substr(kFrameSumBytes),
                std::string_view(challenge).substr(kFrameSumBytes), kBinding}));
  const auto welcome = pair.session->receive(encode_frame(proof), at(1));
  CHECK(sure(decode_frame(welcome.send.at(0))).has_welcome());

  // A hub whose challenge says things that this device does not know.
  const std::string said = old.connected(kBinding, at(2)).send.at(0);
  const std::string newer = as_newer(challenge);
  const auto answer = sure(decode_frame(old.receive(newer, at(2)).send.at(0)));
  CHECK(proof_holds(verifier_of(pair.state.place().credential), answer.proof().proof(),
                    {std::string_view(said).substr(kFrameSumBytes),
                     std::string_view(newer).substr(kFrameSumBytes), kBinding}));
}

TEST_CASE("case 22: entries of newer kinds, with newer fields, reach others byte for byte") {
  Pair pair;
  pair.join();
  proto::Entry newer = note("with more");
  add_newer_fields(newer);
  add_newer_fields(*newer.mutable_note());
  proto::Entry unknown;
  add_newer_fields(unknown);
  sure(pair.store.append(newer, kTestNow_ms));
  sure(pair.store.append(unknown, kTestNow_ms));
  proto::Entry others = newer;
  others.set_device("tablet");
  others.set_sequence(1);
  pair.have_other_entry(others.SerializeAsString());
  pair.connect();
  CHECK(sure(pair.store.bytes_of("tablet", 1)) == others.SerializeAsString());
  int same = 0;
  sure(pair.log.visit(1, [&](const LoggedEntry& entry) {
    same += sure(pair.store.bytes_of(std::string(entry.device), entry.sequence)) == entry.bytes;
    return true;
  }));
  CHECK(same == 2);
}

TEST_CASE("case 22: versions too far apart are refused with what to do, and the outbox is kept") {
  for (const bool device_is_old : {true, false}) {
    Pair pair;
    pair.join();
    pair.record(4);
    DeviceActions begun = pair.machine.connected(kBinding, at(1));
    proto::Frame hello = sure(decode_frame(begun.send.at(0)));
    hello.mutable_hello()->mutable_versions()->set_oldest(device_is_old ? 0 : kNewestProtocol + 1);
    hello.mutable_hello()->mutable_versions()->set_newest(device_is_old ? 0 : kNewestProtocol + 2);
    pair.session.emplace(pair.place, "here", kBinding, std::string(kNonceBytes, 'n'), at(1));
    const HubActions hub = pair.session->receive(encode_frame(hello), at(1));
    CHECK(hub.close);
    const proto::Frame refusal = sure(decode_frame(hub.send.at(0)));
    CHECK(refusal.refusal().kind() ==
          (device_is_old ? proto::REFUSAL_UPDATE_DEVICE : proto::REFUSAL_UPDATE_HUB));
    CHECK(refusal.refusal().waiting_helps() == !device_is_old);
    pair.machine.receive(hub.send.at(0), at(2));
    CHECK(pair.machine.disconnected(at(3)).connect_at_steady_ms.has_value() == !device_is_old);
    CHECK(sure(pair.machine.progress()).refusal->sentence().find("update") != std::string::npos);
    CHECK(sure(pair.state.outbox()).waiting == 4);
    // Updated, the same ledger goes on where it was.
    DeviceMachine updated(pair.state, pair.chance);
    pair.machine = std::move(updated);
    pair.connect();
    CHECK(sure(pair.state.outbox()).waiting == 0);
    CHECK(sure(pair.log.last_position()) == 4);
  }
}

TEST_CASE("case 22: verdicts, refusals and roles that this version does not know do no harm") {
  Pair pair;
  pair.join();
  pair.record(2);
  const auto newer_words = [](const std::string& frame) {
    proto::Frame read = sure(decode_frame(frame));
    if (read.has_welcome()) read.mutable_welcome()->set_role(static_cast<proto::Role>(77));
    if (read.has_ack()) {
      read.mutable_ack()->add_exceptions()->set_sequence(2);
      read.mutable_ack()->mutable_exceptions(0)->set_verdict(static_cast<proto::Verdict>(99));
    }
    return encode_frame(read);
  };
  pair.connect({}, newer_words);
  CHECK(pair.machine.state() == DeviceMachine::State::kSyncing);
  const SyncProgress progress = sure(pair.machine.progress());
  CHECK(progress.at_hub == 1);
  CHECK(progress.saved_here == 1);  // what cannot be understood is no acknowledgement
  proto::Frame refusal;
  refusal.mutable_refusal()->set_kind(static_cast<proto::RefusalKind>(99));
  refusal.mutable_refusal()->set_sentence("something new");
  CHECK(pair.machine.receive(encode_frame(refusal), at(9)).close);
  CHECK(sure(pair.machine.progress()).refusal->sentence() == "something new");
}

}  // namespace
}  // namespace chipfall
