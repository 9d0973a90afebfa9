#include <cstdlib>

#include "sync/hub_session.h"
#include "sync/memory_log.h"
#include "sync/secret.h"

/// One frame to a hub's session that is new (first byte even) or live (odd). Nobody gets in by
/// chance, and nothing is stored for somebody who is not in.
namespace chipfall {
namespace {

constexpr Moment kNow{1'780'000'000'000, 1'000};

struct Hub {
  Hub() : log("otter-bend", "epoch") {
    place.find_shop = [this](const std::string&) { return &log; };
    place.find_code = [this](const std::string&) { return &log; };
    place.guesses = &guesses;
    HubDevice device;
    device.device = device.lineage = "mine";
    device.verifier = verifier_of("credential");
    device.role = proto::ROLE_COORDINATOR;
    if (!log.put_device(device)) std::abort();
  }
  MemoryLog log;
  GuessLimit guesses;
  HubPlace place;
};

void let_in(HubSession& session) {
  proto::Frame frame;
  *frame.mutable_hello()->mutable_versions() = own_versions();
  frame.mutable_hello()->set_device("mine");
  frame.mutable_hello()->set_shop("otter-bend");
  frame.mutable_hello()->set_nonce(std::string(kNonceBytes, 'd'));
  const std::string hello = encode_frame(frame);
  const HubActions challenge = session.receive(hello, kNow);
  frame.mutable_proof()->set_proof(proof_of(
      "credential", {std::string_view(hello).substr(kFrameSumBytes),
                     std::string_view(challenge.send.front()).substr(kFrameSumBytes), "binding"}));
  session.receive(encode_frame(frame), kNow);
}

}  // namespace
}  // namespace chipfall

extern "C" int LLVMFuzzerTestOneInput(const unsigned char* bytes, std::size_t size) {
  using namespace chipfall;
  if (size == 0) return 0;
  const bool live = bytes[0] % 2 == 1;
  const std::string_view input(reinterpret_cast<const char*>(bytes) + 1, size - 1);
  proto::Frame frame;
  const bool is_frame = frame.ParseFromArray(input.data(), static_cast<int>(input.size()));
  Hub hub;
  HubSession session(hub.place, "source", "binding", std::string(kNonceBytes, 'h'), kNow);
  if (live) let_in(session);
  const HubActions actions =
      session.receive(is_frame ? encode_frame(frame) : std::string(input), kNow);
  if (!live) {
    if (!actions.commit.empty()) std::abort();
    for (const std::string& sent : actions.send) {
      const auto answer = decode_frame(sent);
      if (!answer || answer->has_welcome() || answer->has_joined()) std::abort();
    }
  }
  return 0;
}
