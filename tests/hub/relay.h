#pragma once

#include <poll.h>

#include <atomic>
#include <thread>

#include "tests/hub/loopback.h"

/// Passes one TCP connection after another on to a port and cuts each after so many bytes from
/// there.
namespace chipfall {

class Relay {
 public:
  explicit Relay(std::uint16_t to) : to_(to), thread_([this] { run(); }) {}
  Relay(const Relay&) = delete;
  Relay& operator=(const Relay&) = delete;
  ~Relay() {
    ending_ = true;
    thread_.join();
  }
  std::uint16_t port() const { return listening_.port(); }
  void cut_after(long bytes_from_hub) { cut_after_ = bytes_from_hub; }
  long cuts() const { return cuts_; }
  long passed() const { return passed_; }  // from the hub, of the last connection

 private:
  static bool readable(int socket, int ms) {
    pollfd ready{socket, POLLIN, 0};
    return ::poll(&ready, 1, ms) > 0;
  }
  void run() {
    while (!ending_) {
      if (!readable(listening_.socket(), 20)) continue;
      const Relayed pair = Relayed::accept(listening_, to_);
      if (pair.connected) pass(pair);
      pair.close();
    }
  }
  void pass(const Relayed& pair) {
    constexpr long kMost = 16384;
    const long limit = cut_after_;
    long from_hub = 0;
    bool going = true;
    while (going && !ending_) {
      pollfd both[2] = {{pair.device, POLLIN, 0}, {pair.hub, POLLIN, 0}};
      if (::poll(both, 2, 20) <= 0) continue;
      if (both[0].revents != 0) going = pass_on(pair.device, pair.hub, kMost) > 0;
      if (going && both[1].revents != 0) {
        const long left = limit < 0 ? kMost : std::min(kMost, limit - from_hub);
        if (left <= 0) {
          ++cuts_;
          break;
        }
        const long passed = pass_on(pair.hub, pair.device, left);
        from_hub += passed;
        going = passed > 0;
      }
    }
    passed_ = from_hub;
  }

  std::uint16_t to_;
  Listener listening_{8};
  std::atomic<long> cut_after_{-1}, cuts_{0}, passed_{0};
  std::atomic<bool> ending_{false};
  std::thread thread_;  // last: it uses the others
};

}  // namespace chipfall
