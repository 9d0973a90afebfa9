#include <doctest/doctest.h>

#include "sync/batch.h"
#include "sync/hub_session.h"
#include "sync/memory_log.h"
#include "sync/reduce.h"
#include "sync/secret.h"
#include "tests/unit/ledger_folder.h"

/// Tests of lines in sync/SECURITY.md that no other test shows.
namespace chipfall {
namespace {

constexpr Moment kNow{kTestNow_ms, 1000};
constexpr const char* kCredential = "credential";

struct Hub {
  Hub() : log("otter-bend", "epoch") {
    place.find_shop = [this](const std::string& shop) {
      return shop == log.shop() ? &log : nullptr;
    };
    place.find_code = [this](const std::string&) { return &log; };
    place.guesses = &guesses;
    for (const char* name : {"mine", "theirs"}) {
      HubDevice device;
      device.device = device.lineage = name;
      device.verifier = verifier_of(kCredential);
      device.role = proto::ROLE_CLOSER;
      sure(log.put_device(device));
    }
  }
  MemoryLog log;
  GuessLimit guesses;
  HubPlace place;
};

proto::Frame first_of(const HubActions& actions) {
  REQUIRE_FALSE(actions.send.empty());
  return sure(decode_frame(actions.send.front()));
}

/// What the device "mine" sends until it is let in, and what it was answered at last.
struct Recording {
  std::string hello, proof;
  proto::Frame answer;
};

Recording let_in(HubSession& session, const std::string& binding) {
  Recording recording;
  proto::Frame hello;
  *hello.mutable_hello()->mutable_versions() = own_versions();
  hello.mutable_hello()->set_device("mine");
  hello.mutable_hello()->set_shop("otter-bend");
  hello.mutable_hello()->set_nonce(std::string(kNonceBytes, 'd'));
  recording.hello = encode_frame(hello);
  const HubActions challenge = session.receive(recording.hello, kNow);
  REQUIRE(first_of(challenge).has_challenge());
  proto::Frame proof;
  proof.mutable_proof()->set_proof(proof_of(
      kCredential, {std::string_view(recording.hello).substr(kFrameSumBytes),
                    std::string_view(challenge.send.front()).substr(kFrameSumBytes), binding}));
  recording.proof = encode_frame(proof);
  recording.answer = first_of(session.receive(recording.proof, kNow));
  return recording;
}

std::string push_of(const std::string& name, const std::string& writer) {
  proto::Frame frame;
  proto::Push& push = *frame.mutable_push();
  push.set_number(1);
  push.set_device(name);
  const std::vector<std::string> entries = {sent(writer, 1, {kTestNow_ms, 0}, "bench swept")};
  push.set_batch(sure(encode_batch(entries)));
  return encode_frame(frame);
}

TEST_CASE("a recording of a device that was let in lets nobody in again") {
  Hub hub;
  HubSession first(hub.place, "phone", "binding", std::string(kNonceBytes, '1'), kNow);
  const Recording recording = let_in(first, "binding");
  REQUIRE(recording.answer.has_welcome());
  // Played to the hub on another connection, even one with the same binding: the nonce is new.
  HubSession again(hub.place, "thief", "binding", std::string(kNonceBytes, '2'), kNow);
  CHECK(first_of(again.receive(recording.hello, kNow)).has_challenge());
  const HubActions answer = again.receive(recording.proof, kNow);
  CHECK(first_of(answer).refusal().kind() == proto::REFUSAL_NOT_A_MEMBER);
  CHECK(answer.close);
}

TEST_CASE("a proof that somebody in the middle passes on is worth nothing on their connection") {
  Hub hub;
  // Device and hub are each in TLS with the one in the middle, so their bindings differ. A page's
  // connection has none; to claim to be a page does not help either.
  for (const std::string binding : {"binding of the middle", ""}) {
    HubSession session(hub.place, "middle", binding, std::string(kNonceBytes, '1'), kNow);
    CHECK(let_in(session, "binding of the device").answer.refusal().kind() ==
          proto::REFUSAL_NOT_A_MEMBER);
  }
}

TEST_CASE("a page in a browser is let in without a channel binding") {
  Hub hub;
  HubSession session(hub.place, "page", "", std::string(kNonceBytes, '1'), kNow);
  CHECK(let_in(session, "").answer.has_welcome());
}

TEST_CASE("nobody records under another device's name") {
  Hub hub;
  const std::pair<const char*, const char*> wrong[] = {{"theirs", "theirs"}, {"mine", "theirs"}};
  for (const auto& [name, writer] : wrong) {
    HubSession session(hub.place, "phone", "binding", std::string(kNonceBytes, '1'), kNow);
    REQUIRE(let_in(session, "binding").answer.has_welcome());
    const HubActions answer = session.receive(push_of(name, writer), kNow);
    CHECK(first_of(answer).refusal().kind() == proto::REFUSAL_NOT_YOURS);
    CHECK(answer.commit.empty());
    CHECK(answer.close);
  }
  HubSession session(hub.place, "phone", "binding", std::string(kNonceBytes, '1'), kNow);
  REQUIRE(let_in(session, "binding").answer.has_welcome());
  CHECK(session.receive(push_of("mine", "mine"), kNow).commit.size() == 1);
}

TEST_CASE("moved entries have a name that nobody can join or connect by") {
  Hub hub;
  HubSession session(hub.place, "phone", "binding", std::string(kNonceBytes, '1'), kNow);
  REQUIRE(let_in(session, "binding").answer.has_welcome());
  proto::Frame frame;
  frame.mutable_rename()->set_device("moved");
  frame.mutable_rename()->set_verifier(no_verifier());
  REQUIRE(first_of(session.receive(encode_frame(frame), kNow)).has_renamed());
  CHECK(session.receive(push_of("moved", "moved"), kNow).commit.size() == 1);
  CHECK(sure(hub.log.device("moved"))->lineage == "mine");
  const std::string proof(kHashBytes, '\0');
  CHECK_FALSE(proof_holds(no_verifier(), proof, {"hello", "challenge", "binding"}));

  // Not even with a good code, after its device was revoked.
  HubDevice moved = *sure(hub.log.device("moved"));
  moved.revoked = true;
  sure(hub.log.put_device(moved));
  sure(hub.log.put_join_code({sha256("secret"), proto::ROLE_MEMBER, kNow.utc_ms + 1, ""}));
  proto::Frame join;
  *join.mutable_join()->mutable_versions() = own_versions();
  join.mutable_join()->set_secret("secret");
  join.mutable_join()->set_device("moved");
  join.mutable_join()->set_verifier(verifier_of("another"));
  HubSession thief(hub.place, "thief", "binding", std::string(kNonceBytes, '2'), kNow);
  CHECK(first_of(thief.receive(encode_frame(join), kNow)).refusal().kind() ==
        proto::REFUSAL_NOT_YOURS);
}

TEST_CASE("a member is still sent when a duty was ended and by which device, as the page says") {
  proto::Entry entry;
  entry.set_device("theirs");
  entry.set_sequence(1);
  entry.set_member("somebody");
  entry.set_event_utc_ms(kTestNow_ms);
  entry.mutable_clock()->set_wall_ms(kTestNow_ms);
  entry.mutable_duty_done()->mutable_duty()->set_id("zone:bench");
  proto::Entry reduced;
  REQUIRE(reduced.ParseFromString(reduced_for(proto::ROLE_MEMBER, entry.SerializeAsString())));
  CHECK(reduced.member().empty());
  CHECK(reduced.event_utc_ms() == kTestNow_ms);
  CHECK(reduced.clock().wall_ms() == kTestNow_ms);
  CHECK(reduced.device() == "theirs");
  // Notes and the like go to everybody as they were written.
  const std::string note = sent("theirs", 2, {kTestNow_ms, 0}, "I swept the bench");
  CHECK(reduced_for(proto::ROLE_MEMBER, note) == note);
}

}  // namespace
}  // namespace chipfall
