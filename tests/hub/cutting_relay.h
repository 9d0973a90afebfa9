#pragma once

#include <poll.h>
#include <sys/time.h>

#include <atomic>
#include <random>
#include <thread>
#include <vector>

#include "tests/hub/loopback.h"

/// Passes many TCP connections on to one port and, while it is told to, cuts each after a number of
/// bytes that its seed gives. How far each then is depends on the machine; where it is cut does
/// not.
namespace chipfall {

class CuttingRelay {
 public:
  CuttingRelay(std::uint16_t to, std::uint32_t seed, long most_bytes)
      : to_(to), chance_(seed), most_bytes_(most_bytes), thread_([this] { run(); }) {}
  CuttingRelay(const CuttingRelay&) = delete;
  CuttingRelay& operator=(const CuttingRelay&) = delete;
  ~CuttingRelay() {
    ending_ = true;
    thread_.join();
    for (const Pair& pair : pairs_) pair.ends.close();
  }
  std::uint16_t port() const { return listening_.port(); }
  /// From now on, for connections that begin.
  void heal() { cutting_ = false; }
  long cuts() const { return cuts_; }

 private:
  struct Pair {
    Relayed ends;
    long left = 0;  // bytes, of both directions
  };

  void run() {
    std::vector<pollfd> ready;
    while (!ending_) {
      ready.assign(1, {listening_.socket(), POLLIN, 0});
      for (const Pair& pair : pairs_) {
        ready.push_back({pair.ends.device, POLLIN, 0});
        ready.push_back({pair.ends.hub, POLLIN, 0});
      }
      if (::poll(ready.data(), ready.size(), 20) <= 0) continue;
      std::vector<Pair> kept;
      for (std::size_t i = 0; i < pairs_.size(); ++i) {
        Pair pair = pairs_[i];
        bool going = true;
        if (ready[1 + 2 * i].revents != 0) going = pass(pair.ends.device, pair.ends.hub, pair.left);
        if (going && ready[2 + 2 * i].revents != 0)
          going = pass(pair.ends.hub, pair.ends.device, pair.left);
        going ? kept.push_back(pair) : pair.ends.close();
      }
      pairs_ = std::move(kept);
      if (ready[0].revents != 0) begin();
    }
  }

  void begin() {
    Pair pair{Relayed::accept(listening_, to_), kNever};
    if (cutting_) pair.left = 1 + static_cast<long>(chance_() % static_cast<unsigned>(most_bytes_));
    // A side that takes nothing for so long is cut too, so that one cannot hold up all.
    const timeval second{1, 0};
    for (const int end : {pair.ends.device, pair.ends.hub}) {
      ::setsockopt(end, SOL_SOCKET, SO_SNDTIMEO, &second, sizeof second);
    }
    pair.ends.connected ? pairs_.push_back(pair) : pair.ends.close();
  }

  bool pass(int from, int to, long& left) {
    const long passed = pass_on(from, to, left);
    if (passed == 0) return false;
    left -= passed;
    if (left <= 0) ++cuts_;
    return left > 0;
  }

  static constexpr long kNever = 1L << 50;
  std::uint16_t to_;
  Listener listening_{128};
  std::mt19937 chance_;
  long most_bytes_;
  std::vector<Pair> pairs_;
  std::atomic<bool> cutting_{true}, ending_{false};
  std::atomic<long> cuts_{0};
  std::thread thread_;
};

}  // namespace chipfall
