#include "tests/phone/hub_on_pipes.h"

#include <array>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <map>
#include <string>

#include "sync/hub_session.h"
#include "sync/join_code.h"
#include "sync/memory_log.h"
#include "sync/secret.h"

namespace chipfall::test {
namespace {

constexpr std::int64_t kNow_ms = 1'780'000'000'000;
constexpr std::int64_t kCodeLasts_ms = 60'000;

struct Frame {
  char kind = 0;
  std::uint8_t connection = 0;
  std::string bytes;
};

bool read_frame(Frame& frame) {
  std::array<unsigned char, 6> head{};
  if (std::fread(head.data(), 1, head.size(), stdin) != head.size()) return false;
  frame.kind = static_cast<char>(head[0]);
  frame.connection = head[1];
  std::size_t size = 0;
  for (std::size_t i = 0; i < 4; ++i) size |= std::size_t{head[2 + i]} << (8 * i);
  frame.bytes.resize(size);
  return std::fread(frame.bytes.data(), 1, size, stdin) == size;
}

void write_frame(char kind, std::uint8_t connection, const std::string& bytes = {}) {
  std::string out{kind, static_cast<char>(connection)};
  for (int i = 0; i < 4; ++i) out += static_cast<char>(bytes.size() >> (8 * i));
  out += bytes;
  std::fwrite(out.data(), 1, out.size(), stdout);
}

template <typename T>
T sure(OrError<T> result) {
  if (result) return *std::move(result);
  std::fprintf(stderr, "%s\n", result.error().text().c_str());
  std::exit(1);
}
void sure(const OrError<void>& result) {
  if (result) return;
  std::fprintf(stderr, "%s\n", result.error().text().c_str());
  std::exit(1);
}

class PipeHub {
 public:
  PipeHub() {
    place_.find_shop = [this](const std::string& shop) {
      return shop == log_.shop() ? &log_ : nullptr;
    };
    place_.find_code = [this](const std::string& hash) {
      return sure(log_.join_code(hash)) ? &log_ : nullptr;
    };
    place_.guesses = &guesses_;
  }

  void take(const Frame& frame) {
    switch (frame.kind) {
      case 'J':
        write_frame('J', 0, code_for(frame.bytes));
        break;
      case 'O':
        sessions_.erase(frame.connection);
        // A browser shows no TLS exporter, so nothing is bound.
        sessions_.try_emplace(frame.connection, place_, "phone", "",
                              std::string(kNonceBytes, static_cast<char>(++nonces_)), kMoment);
        break;
      case 'M':
        if (const auto it = sessions_.find(frame.connection); it != sessions_.end()) {
          act(frame.connection, it->second.receive(frame.bytes, kMoment));
        }
        break;
      default:
        sessions_.erase(frame.connection);
    }
    write_frame('E', frame.connection);
    std::fflush(stdout);
  }

 private:
  static constexpr Moment kMoment{kNow_ms, 1000};

  std::string code_for(const std::string& role) {
    const std::string secret = "01234567" + std::to_string(10 + ++codes_);
    const proto::Role as = role == "coordinator" ? proto::ROLE_COORDINATOR
                           : role == "closer"    ? proto::ROLE_CLOSER
                                                 : proto::ROLE_MEMBER;
    sure(log_.put_join_code({sha256(secret), as, kNow_ms + kCodeLasts_ms, ""}));
    return sure(join_code_text({"HUB.LOCAL", 8443, std::string(kFingerprintBytes, 'k'), secret}));
  }

  void act(std::uint8_t connection, const HubActions& actions) {
    for (const std::string& bytes : actions.send) write_frame('M', connection, bytes);
    for (const Offer& offer : actions.commit) {
      const auto verdicts = sure(log_.commit({&offer, 1}, kMoment.utc_ms));
      act(connection, sessions_.at(connection).stored(offer.ticket, verdicts.front(), kMoment));
      for (auto& [number, session] : sessions_) {
        if (session.state() == HubSession::State::kLive) act(number, session.log_grew(kMoment));
      }
    }
    if (actions.more) act(connection, sessions_.at(connection).log_grew(kMoment));
    if (actions.close) write_frame('C', connection);
  }

  MemoryLog log_{"Otter Bend", std::string(16, 'e')};
  GuessLimit guesses_;
  HubPlace place_;
  std::map<std::uint8_t, HubSession> sessions_;
  int nonces_ = 0;
  int codes_ = 0;
};

}  // namespace

int hub_on_pipes() {
  PipeHub hub;
  Frame frame;
  while (read_frame(frame)) hub.take(frame);
  return 0;
}

}  // namespace chipfall::test
