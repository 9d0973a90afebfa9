#include <doctest/doctest.h>

#include "sync/backoff.h"
#include "sync/hub_session.h"
#include "sync/join_code.h"
#include "sync/memory_log.h"
#include "sync/reduce.h"
#include "sync/secret.h"
#include "tests/unit/ledger_folder.h"

namespace chipfall {
namespace {

constexpr Moment kNow{kTestNow_ms, 1000};

struct Hub {
  Hub() : log("otter-bend", "epoch-of-hub") {
    place.find_shop = [this](const std::string& shop) {
      return shop == log.shop() ? &log : nullptr;
    };
    place.find_code = [this](const std::string&) { return &log; };
    place.guesses = &guesses;
  }
  HubSession session(const std::string& source = "somewhere") {
    return HubSession(place, source, "binding", std::string(kNonceBytes, 'h'), kNow);
  }
  MemoryLog log;
  GuessLimit guesses;
  HubPlace place;
};

proto::Frame only(const HubActions& actions) {
  REQUIRE(actions.send.size() == 1);
  return sure(decode_frame(actions.send.front()));
}

proto::Frame join_frame(const std::string& secret, const std::string& device) {
  proto::Frame frame;
  *frame.mutable_join()->mutable_versions() = own_versions();
  frame.mutable_join()->set_secret(secret);
  frame.mutable_join()->set_device(device);
  frame.mutable_join()->set_device_epoch("e");
  frame.mutable_join()->set_verifier(verifier_of("credential of " + device));
  return frame;
}

proto::RefusalKind refused_join(Hub& hub, const std::string& secret, const std::string& device,
                                Moment now = kNow, const std::string& source = "somewhere") {
  HubSession session = hub.session(source);
  const HubActions actions = session.receive(encode_frame(join_frame(secret, device)), now);
  return only(actions).has_joined() ? proto::REFUSAL_UNSPECIFIED : only(actions).refusal().kind();
}

TEST_CASE("SHA-256 and HMAC are those of the standards") {
  // FIPS 180-2, appendix B.1; RFC 4231, test case 2.
  CHECK(sha256("abc").substr(0, 4) == "\xba\x78\x16\xbf");
  CHECK(hmac_sha256("Jefe", "what do ya want for nothing?").substr(0, 4) == "\x5b\xdc\xc1\x46");
}

TEST_CASE("a proof holds for its credential and its connection alone") {
  const Transcript seen{"hello", "challenge", "binding"};
  const std::string proof = proof_of("credential", seen);
  CHECK(proof_holds(verifier_of("credential"), proof, seen));
  CHECK_FALSE(proof_holds(verifier_of("another"), proof, seen));
  CHECK_FALSE(proof_holds(verifier_of("credential"), proof, {"hello", "challenge", "other"}));
  CHECK_FALSE(proof_holds(verifier_of("credential"), proof, {"hello", "later", "binding"}));
  CHECK_FALSE(proof_holds(verifier_of("credential"), proof, {"helloc", "hallenge", "binding"}));
  CHECK_FALSE(proof_holds("", proof, seen));
}

TEST_CASE("a joining code reads back, also as people type it") {
  JoinCode code{"hub.local", 8443, std::string(kFingerprintBytes, '\x9c'), "0123456789"};
  const std::string text = sure(join_code_text(code));
  CHECK(text.size() <= kMostJoinCodeText);
  CHECK(sure(read_join_code(text)).secret == code.secret);
  std::string typed = text + "\n";
  for (char& c : typed) c = c == '0' ? 'o' : c == '1' ? 'l' : c;
  typed =
      std::string("cf1") + text.substr(3, text.rfind('*') - 2) + typed.substr(text.rfind('*') + 1);
  CHECK(sure(read_join_code(typed)).secret == code.secret);
  for (std::size_t size = 0; size < text.size(); ++size) {
    CHECK_FALSE(read_join_code(text.substr(0, size)).has_value());
  }
}

TEST_CASE("case 26: a joining code is good once, for its time, and guesses run out") {
  Hub hub;
  const auto put = [&](const std::string& secret) {
    sure(hub.log.put_join_code(
        {sha256(secret), proto::ROLE_MEMBER, kNow.utc_ms + kJoinCodeLasts_ms, ""}));
  };
  put("first");
  put("second");
  CHECK(refused_join(hub, "first", "phone") == proto::REFUSAL_UNSPECIFIED);
  // The same phone whose answer was lost, and then another one.
  CHECK(refused_join(hub, "first", "phone") == proto::REFUSAL_UNSPECIFIED);
  CHECK(refused_join(hub, "first", "other") == proto::REFUSAL_CODE_USED);
  Moment late = kNow;
  late.utc_ms += kJoinCodeLasts_ms + 1;
  CHECK(refused_join(hub, "second", "other", late) == proto::REFUSAL_CODE_EXPIRED);
  for (int guess = 0; guess < 3; ++guess) {
    CHECK(refused_join(hub, "guess", "other") == proto::REFUSAL_CODE_WRONG);
  }
  CHECK(refused_join(hub, "second", "other") == proto::REFUSAL_TOO_MANY_TRIES);
  CHECK(refused_join(hub, "second", "other", kNow, "elsewhere") == proto::REFUSAL_UNSPECIFIED);
}

TEST_CASE("an unknown device and a wrong proof are refused alike, and a wrong shop by its name") {
  Hub hub;
  HubDevice known;
  known.device = known.lineage = "known";
  known.verifier = verifier_of("credential");
  sure(hub.log.put_device(known));
  const auto hello = [](const std::string& device, const std::string& shop) {
    proto::Frame frame;
    *frame.mutable_hello()->mutable_versions() = own_versions();
    frame.mutable_hello()->set_device(device);
    frame.mutable_hello()->set_shop(shop);
    frame.mutable_hello()->set_nonce(std::string(kNonceBytes, 'd'));
    return encode_frame(frame);
  };
  proto::Frame proof;
  proof.mutable_proof()->set_proof(std::string(kHashBytes, 'x'));
  for (const char* device : {"known", "unknown"}) {
    HubSession session = hub.session();
    CHECK(only(session.receive(hello(device, "otter-bend"), kNow)).has_challenge());
    const HubActions answer = session.receive(encode_frame(proof), kNow);
    CHECK(only(answer).refusal().kind() == proto::REFUSAL_NOT_A_MEMBER);
    CHECK(answer.close);
  }
  HubSession session = hub.session();
  CHECK(only(session.receive(hello("known", "elsewhere"), kNow)).refusal().kind() ==
        proto::REFUSAL_WRONG_SHOP);
}

TEST_CASE("case 15: a frame with any bit turned, or cut anywhere, changes nothing and is named") {
  const std::string frame = encode_frame(join_frame("secret", "phone"));
  for (std::size_t bit = 0; bit < 8 * frame.size(); ++bit) {
    std::string turned = frame;
    turned[bit / 8] = static_cast<char>(turned[bit / 8] ^ (1 << bit % 8));
    CHECK_FALSE(decode_frame(turned).has_value());
  }
  Hub hub;
  for (std::size_t size = 0; size < frame.size(); ++size) {
    HubSession session = hub.session();
    const HubActions answer = session.receive(frame.substr(0, size), kNow);
    CHECK(only(answer).refusal().kind() == proto::REFUSAL_DAMAGED);
    CHECK(answer.close);
  }
  FrameStream stream;
  stream.take("\xff\xff\xff\xff");
  CHECK_FALSE(stream.next().has_value());
}

TEST_CASE("case 14: frames come out of a stream the same however its bytes arrive") {
  const std::string one = encode_frame(join_frame("a", "b")), two = encode_frame({});
  const std::string all = FrameStream::wrap(one) + FrameStream::wrap(two);
  for (std::size_t split = 0; split <= all.size(); ++split) {
    FrameStream stream;
    std::vector<std::string> frames;
    for (const std::string& part : {all.substr(0, split), all.substr(split)}) {
      stream.take(part);
      for (auto next = stream.next(); next && *next; next = stream.next()) frames.push_back(**next);
    }
    CHECK(frames == std::vector{one, two});
  }
}

TEST_CASE("waits grow to five minutes and are spread over all of it") {
  CHECK(backoff_ms(1, 0) == 0);
  CHECK(backoff_ms(1, 0.5) == 500);
  CHECK(backoff_ms(3, 0.5) == 2000);
  CHECK(backoff_ms(1000, 1) == kMostBackoff_ms);
}

TEST_CASE("a member is not sent who ended a duty nor how long it took, a closer is") {
  proto::Entry entry;
  entry.set_device("other");
  entry.set_sequence(7);
  entry.set_member("somebody");
  entry.mutable_duty_done()->mutable_duty()->set_id("zone:bench");
  entry.mutable_duty_done()->set_minutes(4);
  entry.mutable_duty_done()->set_estimated_minutes(3);
  const std::string bytes = entry.SerializeAsString();
  CHECK(reduced_for(proto::ROLE_CLOSER, bytes) == bytes);
  proto::Entry reduced;
  REQUIRE(reduced.ParseFromString(reduced_for(proto::ROLE_MEMBER, bytes)));
  CHECK(reduced.reduced());
  CHECK(reduced.member().empty());
  CHECK_FALSE(reduced.duty_done().has_minutes());
  CHECK(reduced.duty_done().estimated_minutes() == 0);
  CHECK(reduced.duty_done().duty().id() == "zone:bench");
  CHECK(reduced.sequence() == 7);
}

}  // namespace
}  // namespace chipfall
